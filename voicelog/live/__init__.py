"""The live session: from the microphone to the trainer's ear, and nothing lost on the way."""
