"""Sound to words: sources of audio, segmentation into utterances, recognisers."""
