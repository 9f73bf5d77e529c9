"""An animal's visits side by side: which cases are of one animal, and what changed between two.
Pure functions over cases and charts; a person decides where names alone agree."""
