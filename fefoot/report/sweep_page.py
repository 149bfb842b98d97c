"""placeholder"""
def sweep_page(swept, facts): return ""
