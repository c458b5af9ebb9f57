"""One module a command, each with its `command`; imported when the command is called."""
