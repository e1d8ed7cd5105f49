"""What Python's reader of zips raises on damage, and on packings it does not know."""

import lzma
import zipfile
import zlib

__all__ = ["ZIP_FAULTS"]

# NotImplementedError: a packing, or a version of zips, the reader does not know; RuntimeError: a
# password; OSError: also how the bz2 reader tells damage; the last three: sizes that cannot be.
ZIP_FAULTS = (
    zipfile.BadZipFile, zlib.error, lzma.LZMAError, NotImplementedError, RuntimeError, EOFError,
    OSError, ValueError, OverflowError, MemoryError,
)  # fmt: skip
