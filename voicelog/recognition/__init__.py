"""Turn sound into readings and a verdict on each: segments, listeners, the judge."""
