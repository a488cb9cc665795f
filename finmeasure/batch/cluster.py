"""Measure photos on the workers of a Dask cluster; the study is written by this process alone.

Workers read the photos from a path that they share with this computer, and send results back.
"""

from __future__ import annotations

import ipaddress
from collections import deque
from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from finmeasure.batch.measure_photo import PhotoTask, failed, measure_photo, refused
from finmeasure.errors import FinmeasureError
from finmeasure.study.records import PhotoResult

if TYPE_CHECKING:
    from distributed import Client, Future

WAITING_PER_THREAD = 3
CONNECT_SECONDS = 20
TRIES_PER_PHOTO = 3
PATIENCE_SECONDS = 600.0
"""How long the oldest photo may take, tries on other workers included."""


def checked_address(address: str) -> str:
    """Let only encrypted addresses and this computer's own through.

    Parameters
    ----------
    address : str
        Address of a Dask scheduler, e.g. ``"tls://scheduler:8786"``.

    Returns
    -------
    str
        The address.

    Raises
    ------
    FinmeasureError
        If photos and results would cross a network in the clear.

    Examples
    --------
    >>> checked_address("tcp://127.0.0.1:8786")
    'tcp://127.0.0.1:8786'
    """
    try:
        parts = urlsplit(address)
        known = bool(parts.hostname and parts.port)
    except ValueError:
        known = False
    if known and (
        parts.scheme == "tls" or (parts.scheme == "tcp" and _is_loopback(parts.hostname))
    ):
        return address
    message = (
        f"Cluster address {address!r}: allowed are tls://HOST:PORT, and tcp://127.0.0.1:PORT on "
        "this computer. Start the scheduler with TLS certificates."
    )
    raise FinmeasureError(message)


def _is_loopback(host: str | None) -> bool:
    """Tell whether a host is this computer."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host or "").is_loopback
    except ValueError:
        return False


def measure_on_cluster(tasks: Iterable[PhotoTask], address: str) -> Iterator[PhotoResult]:
    """Measure photos on a cluster; results come in the order of the tasks.

    Parameters
    ----------
    tasks : iterable of PhotoTask
        Read as they are needed.
    address : str
        Address of the scheduler.

    Yields
    ------
    PhotoResult
        One for each task. A photo whose worker dies is tried on others; after three deaths it
        is refused and the run goes on.

    Raises
    ------
    FinmeasureError
        If the address is not allowed, or the scheduler cannot be reached or has no workers.
    """
    with _connected(checked_address(address)) as client:
        threads = sum(client.nthreads().values())
        if not threads:
            message = f"The cluster at {address} has no workers. Start some, then run again."
            raise FinmeasureError(message)
        yield from _in_order(client, iter(tasks), WAITING_PER_THREAD * threads)


def _connected(address: str) -> Client:
    """Connect, with the certificates of Dask's own configuration where TLS is used."""
    try:
        from distributed import Client
        from distributed.security import Security
    except ImportError as error:
        message = "Option --cluster needs Dask: pip install 'finmeasure[cluster]'."
        raise FinmeasureError(message) from error
    security: dict[str, Any] = {}
    if address.startswith("tls"):
        security["security"] = Security(require_encryption=True)
    try:
        return Client(address, timeout=CONNECT_SECONDS, set_as_default=False, **security)
    except (OSError, TimeoutError, ValueError, TypeError) as error:
        message = (
            f"The cluster at {address} cannot be reached ({' '.join(str(error).split())[:120]}). "
            "Check that its scheduler runs and, for TLS, Dask's certificates."
        )
        raise FinmeasureError(message) from error


def _in_order(
    client: Client, tasks: Iterator[PhotoTask], waiting_at_most: int
) -> Iterator[PhotoResult]:
    """Keep the workers busy and give each result in its turn."""
    waiting: deque[tuple[PhotoTask, Future]] = deque()
    while True:
        while len(waiting) < waiting_at_most:
            task = next(tasks, None)
            if task is None:
                break
            future = client.submit(measure_photo, task, pure=False, retries=TRIES_PER_PHOTO - 1)
            waiting.append((task, future))
        if not waiting:
            return
        yield _result(*waiting.popleft())


def _result(task: PhotoTask, future: Future) -> PhotoResult:
    """Wait for one photo; trouble with a worker refuses that photo only."""
    from distributed import TimeoutError as ClusterTimeoutError
    from distributed.scheduler import KilledWorker

    try:
        result: PhotoResult = future.result(timeout=PATIENCE_SECONDS)
    except KilledWorker:
        reason = "The workers that measured this photo ended, again and again."
        return refused(task, reason, "It may need more memory: make it smaller.", again=True)
    except ClusterTimeoutError:
        future.cancel()
        reason = f"No answer for this photo within {PATIENCE_SECONDS:g} s."
        return refused(task, reason, "Look at the cluster's workers, then run again.", again=True)
    except Exception as error:  # whatever a foreign worker sends back
        return failed(task, error)
    return result
