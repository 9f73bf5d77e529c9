"""A charting session: where speech, phrases and chart come together."""
