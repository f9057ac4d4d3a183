"""Pictures, one module a subject; each draws on axes that it is given or makes."""
