"""What the analysis found, in words: each code and its numbers make one sentence, here only."""
