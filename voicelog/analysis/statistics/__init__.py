"""Statistical methods: each a function of numbers, with the source of its formula."""
