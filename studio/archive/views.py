"""The archive, for the owner to download. It is on the page of the backups."""

import tempfile
from pathlib import Path

from django.conf import settings
from django.http import FileResponse, HttpRequest
from django.utils import timezone
from django.views.decorators.http import require_POST

from studio.accounts import security_log as security
from studio.accounts.roles import OWNER_ONLY, role_required
from studio.archive.writing import write_archive


@require_POST
@role_required(*OWNER_ONLY)
def archive_download(request: HttpRequest) -> FileResponse:
    """Write an archive into a file that has no name on this computer, and send it."""
    at, home = timezone.now(), Path(settings.DATA_DIR)
    home.mkdir(mode=0o700, parents=True, exist_ok=True)
    file = tempfile.TemporaryFile(dir=home)  # noqa: SIM115 (the answer closes it once it is sent)
    try:
        write_archive(file, at=at)
    except BaseException:
        file.close()
        raise
    file.seek(0)
    security.event("archive_downloaded", request)
    return FileResponse(file, as_attachment=True, filename=f"meniscus-archive-{at:%Y%m%d-%H%M}.zip")
