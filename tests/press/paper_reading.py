"""PDFs as other programs read them: their words, and their pages as a camera would see them."""

import io

import numpy as np
import pypdfium2
import zxingcpp


def words_of(reader):
    """All words of a PDF in reading order, blanks made one."""
    text = "\n".join(page.extract_text() for page in reader.pages)
    return " ".join(text.replace("\u200b", "").split())


def picture_of(pdf, page=0, *, dots=150):
    """A page as grey dots, shape ``(height, width)``."""
    document = pypdfium2.PdfDocument(io.BytesIO(pdf))
    return document[page].render(scale=dots / 72, grayscale=True).to_numpy().squeeze()


def codes_in(picture):
    """What the QR codes in a picture say."""
    return [code.text for code in zxingcpp.read_barcodes(np.ascontiguousarray(picture))]
