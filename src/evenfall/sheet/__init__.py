"""Results as declared pages, and their renderers."""
