"""Ways out of the record: one module a format, each giving file names and bytes; who calls decides where they go."""
