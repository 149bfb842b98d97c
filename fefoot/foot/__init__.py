"""The foot: its shapes, the morph to a person, sections and their meshes."""
