"""Bodies of requests: received whole and in time, then decoded for the handler. Reading a document strictly is `strict`'s."""
