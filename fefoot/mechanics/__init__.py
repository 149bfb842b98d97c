"""The mechanics kernel: solids, rigid bodies, joints, cables, contact and their equilibrium.

Nothing in this folder knows about feet or devices. Positions, not displacements, are the unknowns:
a :class:`~fefoot.mechanics.state.State` holds the current position of every node and the rotation
of every rigid body; each *term* (solid, cable, joint, spring, contact, pressure) returns its
energy,
its gradient and its Hessian with respect to them.
"""
