"""The co-op console: pages for those who review what members reported and publish their table.

Inside: pages made on this side, their look, who is logged in, forms that cannot be sent from elsewhere. Outside: what
is done (`usecases`), sentences (`text`), charts (`plot`), the address it is mounted at (`api.app`). No script runs in
a page, nothing is fetched from another host, and every text goes through a template that escapes it.
"""

from service.console.app import console

__all__ = ["console"]
