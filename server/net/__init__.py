"""Sockets, codes and addresses: how strangers reach the server, and how far."""
