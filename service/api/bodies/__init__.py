"""Request bodies: receive them whole and in time, and decode them for the handler by the package `strict`."""
