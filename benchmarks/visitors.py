"""Visitors of a site: clients that each keep a connection and ask one page after the other. A process of its own, so that it takes no time
from the server's; it does no more with an answer than find its end (RFC 9112), so that it is never the slowest.

    python -m benchmarks.visitors 127.0.0.1:8001 16 5 < addresses

Every client asks its next page as soon as it has the last one. If told to try again (503), it waits that long and asks again; the
time until the page is there counts from the first request. The answer is one line of JSON.
"""

import asyncio
import json
import sys
import time
from dataclasses import dataclass, field
from itertools import cycle

WARM = 1.0  # seconds at the start that do not count


@dataclass
class Seen:
    """What the visitors saw. times: seconds until each page was there; again: how often they were told to try again; failed: other answers."""

    times: list[float] = field(default_factory=list)
    again: int = 0
    failed: int = 0


class Connection:
    """A kept-alive connection."""

    def __init__(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter, host: str) -> None:
        self.reader, self.writer, self.host = reader, writer, host

    async def get(self, address: str) -> tuple[int, float]:
        """The status of an answer, and after how many seconds to try again."""
        self.writer.write(f"GET {address} HTTP/1.1\r\nHost: {self.host}\r\n\r\n".encode())
        head = (await self.reader.readuntil(b"\r\n\r\n")).decode("latin-1").lower()
        lines = head.split("\r\n")
        fields = dict(line.split(": ", 1) for line in lines[1:] if ": " in line)
        if "content-length" in fields:
            await self.reader.readexactly(int(fields["content-length"]))
        elif fields.get("transfer-encoding") == "chunked":
            while size := int(await self.reader.readuntil(b"\r\n"), 16):
                await self.reader.readexactly(size + 2)
            await self.reader.readuntil(b"\r\n")
        return int(lines[0].split(" ")[1]), float(fields.get("retry-after", "0"))


async def visit(place: str, clients: int, seconds: float, addresses: list[str]) -> Seen:
    """What so many clients see in so many seconds."""
    host, _, port = place.partition(":")
    seen, pages, start = Seen(), cycle(addresses), time.perf_counter()

    async def client() -> None:
        connection = Connection(*await asyncio.open_connection(host, int(port)), place)
        while (asked := time.perf_counter()) < start + WARM + seconds:
            address = next(pages)
            status, wait = await connection.get(address)
            while status == 503 and time.perf_counter() < start + WARM + seconds:
                seen.again += asked >= start + WARM
                await asyncio.sleep(wait)
                status, wait = await connection.get(address)
            if asked >= start + WARM:
                if status == 200:
                    seen.times.append(time.perf_counter() - asked)
                elif status != 503:
                    seen.failed += 1
        connection.writer.close()

    await asyncio.gather(*(client() for _ in range(clients)))
    return seen


def main() -> None:
    """Read addresses, visit, write what was seen."""
    place, clients, seconds = sys.argv[1], int(sys.argv[2]), float(sys.argv[3])
    seen = asyncio.run(visit(place, clients, seconds, sys.stdin.read().split()))
    print(json.dumps({"seconds": seconds, "times": sorted(seen.times), "again": seen.again, "failed": seen.failed}))


if __name__ == "__main__":
    main()
