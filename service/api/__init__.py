"""The HTTP interface: requests in, answers and problems out. What an answer means is decided in `usecases`."""
