"""What `_evenrooms` gives, for type checkers and editors."""

from collections.abc import Iterator, Mapping, Sequence
from os import PathLike
from typing import Optional, Protocol, Union, final, type_check_only

import pandas
import polars
import pyarrow

__version__: str

@type_check_only
class ArrowStream(Protocol):
    """A table of any library that has the Arrow PyCapsule interface."""

    def __arrow_c_stream__(self, requested_schema: Optional[object] = None) -> object: ...

_Path = Union[str, PathLike[str]]
_Exports = Union[_Path, Mapping[str, Union[bytes, str, ArrowStream]]]

class Error(Exception):
    """What stops an audit, in the words of the command: the place, what was found, what was expected, and the next step."""

@final
class Table:
    """Rows in memory."""

    @property
    def name(self) -> str: ...
    @property
    def about(self) -> str: ...
    @property
    def columns(self) -> dict[str, str]: ...
    @property
    def units(self) -> dict[str, str]: ...
    def __len__(self) -> int: ...
    def __arrow_c_schema__(self) -> object: ...
    def __arrow_c_stream__(self, requested_schema: Optional[object] = None) -> object: ...
    def to_arrow(self) -> pyarrow.Table: ...
    def to_pandas(self) -> pandas.DataFrame: ...
    def to_polars(self) -> polars.DataFrame: ...

@final
class Note:
    """Something about the data that a reader of the results must know."""

    @property
    def place(self) -> str: ...
    @property
    def line(self) -> Optional[int]: ...
    @property
    def what(self) -> str: ...
    @property
    def hint(self) -> str: ...
    @property
    def unreadable(self) -> bool: ...

@final
class Audit:
    """What an audit came to: tables by their names, and what a reader must know."""

    @property
    def tables(self) -> dict[str, Table]: ...
    @property
    def notes(self) -> list[Note]: ...
    def summary(self, details: bool = False) -> str: ...
    def __getitem__(self, key: str, /) -> Table: ...
    def __contains__(self, key: object, /) -> bool: ...
    def __iter__(self) -> Iterator[str]: ...
    def __len__(self) -> int: ...

def audit(
    site: _Path,
    exports: Optional[_Exports] = None,
    *,
    roster: Optional[Union[str, bytes]] = None,
    tables: Optional[Sequence[str]] = None,
    threads: Optional[int] = None,
) -> Audit: ...
def metrics(
    aligned: ArrowStream,
    site: _Path,
    *,
    roster: Optional[Union[str, bytes]] = None,
    weather: Optional[ArrowStream] = None,
) -> Table: ...
def _command_line(words: Sequence[str]) -> int: ...
