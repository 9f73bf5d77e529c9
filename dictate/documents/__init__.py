"""What is printed: the dental record, a letter of referral and a sheet for the owner."""
