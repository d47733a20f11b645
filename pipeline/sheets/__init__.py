"""How parts lie on sheets and pages."""
