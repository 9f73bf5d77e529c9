"""Exchange with other programs: an HL7 FHIR bundle of an examination, written and read back."""
