"""What people look at: figures, string layouts, notebooks and pages."""
