"""A hundred narrations, each with its reps as two readers coded them and as was agreed after."""
