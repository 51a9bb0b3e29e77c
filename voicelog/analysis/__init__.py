"""Over weeks: what a dog's sessions come to, by pure functions.

Every result names the reps it rests on, few reps look like few reps, and nothing here asks
for a press.
"""
