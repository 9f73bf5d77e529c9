"""A voice of one's own: the embedded engine's acoustic model fitted to one clinician."""
