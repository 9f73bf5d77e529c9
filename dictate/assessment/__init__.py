"""What follows from a chart: attachment, stages, summary, what is left, questions, proposals,
regional blocks. Pure functions over a `Chart`; a veterinarian decides what becomes of them."""
