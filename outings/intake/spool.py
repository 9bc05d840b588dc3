"""Prepared rows on their way into the database: in memory or, when they are many, in a temporary file."""

import marshal
import tempfile

KEPT = 5_000  # rows kept in memory before they go to a temporary file


class Spool:
    """Batches of columns, {name: values}, read back in the order in which they were added."""

    def __init__(self):
        self.batches, self.rows, self.file = [], 0, None

    def add(self, batch, rows):
        self.rows += rows
        self.batches.append(batch)
        if self.rows > KEPT:
            if self.file is None:
                self.file = tempfile.TemporaryFile()  # noqa: SIM115 - closed when it has been read
            for batch in self.batches:
                packed = marshal.dumps(batch)
                self.file.write(len(packed).to_bytes(8, "big"))
                self.file.write(packed)
            self.batches = []

    def read(self):
        """The batches; the spool is empty afterwards."""
        if self.file is None:
            yield from self.batches
            return
        with self.file:
            self.file.seek(0)
            while size := self.file.read(8):
                yield marshal.loads(self.file.read(int.from_bytes(size, "big")))
