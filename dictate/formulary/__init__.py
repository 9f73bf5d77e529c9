"""Local anaesthetic arithmetic, from a formulary that the practice enters and signs itself."""
