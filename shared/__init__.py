"""What client and server share: rules, messages, measures. Must never wait, draw random numbers or show anything."""
