"""The counter in a browser: one page on this machine, a form and the answer in words."""
