"""Why a table could not be reached, in one sentence each. Must never open a connection itself."""

import errno
import re
import socket
import ssl

from websockets.exceptions import InvalidStatus, WebSocketException

from client.connection.address import Address
from shared.troubles import describe_error

_NO_ROUTE = {errno.EHOSTUNREACH, errno.ENETUNREACH, errno.ENETDOWN, errno.EHOSTDOWN}
_SELF_MADE = " If the host made its own certificate, write # and its fingerprint after the address."


def unreachable(error: Exception, address: Address, *, again: bool) -> str:
    """Return why a connection failed: with advice the first time; again, to a table that was open, the cause alone."""
    text = _why(error, address)
    if not again:
        return text
    return "The table is not open now." if _is_refused(error) else f"{re.split('[:;.] ', text)[0].rstrip('.')}."


def _why(error: Exception, address: Address) -> str:
    match error:
        case InvalidStatus() if error.response.status_code == 403:
            return f"The table at {address} refuses connections through this address."
        case WebSocketException() | EOFError():
            hint = "" if address.private else " If the host's screen shows wss:// before the address, write it too."
            return f"The program at {address} is not a racktempo table, or it encrypts.{hint}"
        case socket.gaierror():
            return f"There is no machine named {address.host}."
        case ssl.SSLCertVerificationError():
            fault = error.verify_message.rstrip(".")
            return f"The connection to {address} cannot be encrypted; its certificate is bad: {fault}.{_SELF_MADE}"
        case ssl.SSLError():
            return (
                f"The connection to {address} cannot be encrypted: there is no working TLS at this port."
                " If the host's screen shows the address without wss://, leave that out; others can then read along."
            )
        case TimeoutError():
            return f"{address} does not answer; a firewall may be in the way."
        case OSError() if _is_refused(error):
            return f"Nobody answers at {address}: is the table open, and the port right?"
        case OSError() if _numbers(error) & _NO_ROUTE:
            return f"There is no route to {address.host}: are both machines on the same network?"
    return f"{address} cannot be reached: {describe_error(error)}."


def _is_refused(error: Exception) -> bool:
    return isinstance(error, OSError) and errno.ECONNREFUSED in _numbers(error)


def _numbers(error: OSError) -> set[int | None]:
    """Return the system's numbers of an error: where several addresses were tried, they stand in its text alone."""
    return {error.errno, *(int(number) for number in re.findall(r"\[Errno (-?\d+)\]", str(error)))}
