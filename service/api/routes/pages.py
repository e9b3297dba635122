"""The interactive documentation, from files of this installation alone.

FastAPI's own page holds its script inline and takes files from elsewhere; this one keeps to a content
policy that allows neither.
"""

from typing import Final

from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

STATIC: Final = "/static-offline-docs"
# the viewer sets style attributes, and its icons are data addresses
POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; "
    "connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
)
_PAGE: Final = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>Threshbook: interactive documentation</title>
<link rel="icon" href="data:,">
<link rel="stylesheet" href="{root}{static}/swagger-ui.css">
</head>
<body>
<div id="viewer" data-description="{root}/openapi.json"></div>
<script src="{root}{static}/swagger-ui-bundle.js"></script>
<script src="{root}/docs/start.js"></script>
</body>
</html>
"""
_START: Final = """const viewer = document.getElementById("viewer");
SwaggerUIBundle({
  url: viewer.dataset.description,
  domNode: viewer,
  deepLinking: true,
  validatorUrl: null,
  presets: [SwaggerUIBundle.presets.apis],
});
"""

router = APIRouter(include_in_schema=False)


@router.get("/docs")
async def docs(http: Request) -> HTMLResponse:
    """Page that shows and tries every address."""
    page = _PAGE.format(root=http.scope.get("root_path", ""), static=STATIC)
    return HTMLResponse(page, headers={"Content-Security-Policy": POLICY, "Cache-Control": "public, max-age=300"})


@router.get("/docs/start.js")
async def start() -> Response:
    """Script that starts the viewer."""
    return Response(_START, headers={"Cache-Control": "public, max-age=300"}, media_type="text/javascript")
