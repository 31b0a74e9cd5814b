"""One file per mechanism. A new file in this folder is found by itself; nothing else has to change."""
