"""The use cases, each one function; the faces (cli, live, web) call them."""
