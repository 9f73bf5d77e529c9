"""What can be said: JSGF grammars, their automata, sampled sentences and pronunciations."""
