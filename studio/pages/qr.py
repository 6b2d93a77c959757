"""An address as a QR code on a page."""

from django.utils.safestring import SafeString, mark_safe


def qr_code(text: str) -> SafeString:
    """One SVG with neither style nor script in it, dark on light in either colour scheme."""
    import segno  # here, because few pages need it and starting up should not wait for it

    drawing = segno.make(text, error="m", micro=False)
    return mark_safe(drawing.svg_inline(border=4, dark="#000", light="#fff", svgclass="qr", omitsize=True))
