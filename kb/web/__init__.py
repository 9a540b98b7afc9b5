"""The web pages: a Datasette plugin (https://docs.datasette.io), thin over the same API as the command line.

Every page is a GET; its address carries the whole question, so that it can be kept, shared and printed. The site writes nothing.
`kb serve --db FILE` starts it; `kb.web.server:create_app` is the ASGI factory for other servers.
"""

from kb.web.guard import asgi_wrapper
from kb.web.problems import forbidden, handle_exception
from kb.web.routes import register_routes
from kb.web.tables import extra_template_vars, get_metadata, permission_allowed

__all__ = ["asgi_wrapper", "extra_template_vars", "forbidden", "get_metadata", "handle_exception", "permission_allowed", "register_routes"]
