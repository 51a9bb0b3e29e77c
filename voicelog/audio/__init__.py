"""Sound in: files of any common format as one stream of numbers, and how loud it is."""
