"""What each route of the desk asks of whoever comes: declared here and nowhere else.

A route that is not listed is closed to everybody who has to sign in.
"""

from enum import IntEnum
from types import MappingProxyType

from bolewalk.store.roles import Role

__all__ = ["MAY", "RULES", "Need"]


class Need(IntEnum):
    """What is needed for a route, each more than the one before it."""

    NOTHING = 0
    READ = 1
    FIELD = 2
    ESTIMATE = 3
    OWN = 4
    NEVER = 5


MAY: MappingProxyType[Role, Need] = MappingProxyType(
    {
        "read-only": Need.READ,
        "field": Need.FIELD,
        "estimator": Need.ESTIMATE,
        "owner": Need.OWN,
    }
)
"""The most each role may do."""

_TABLE: dict[Need, tuple[str, ...]] = {
    # Whoever can reach the desk. A client link opens by its own token.
    Need.NOTHING: (
        "GET /static/{edition}/{name:path}",
        "POST /type",
        "GET /sign-in",
        "POST /sign-in",
        "GET /client/{token}",
        "GET /client/{token}/{name:path}",
    ),
    # Any account: looks at everything of its firm, changes nothing but its own password. Settling
    # and dragging reckon, and keep nothing.
    Need.READ: (
        "GET /",
        "GET /openapi.json",
        "GET /account",
        "POST /account/password",
        "POST /account/sign-out",
        "POST /account/sign-out-everywhere",
        "GET /surveys/{survey:int}",
        "GET /surveys/{survey:int}/trees",
        "GET /surveys/{survey:int}/trees/rows/{key}",
        "GET /surveys/{survey:int}/trees/{tree}",
        "GET /surveys/{survey:int}/walk",
        "GET /surveys/{survey:int}/walk/recording",
        "GET /surveys/{survey:int}/names",
        "GET /surveys/{survey:int}/price",
        "GET /surveys/{survey:int}/planting",
        "GET /surveys/{survey:int}/papers",
        "GET /surveys/{survey:int}/papers/{made}/{revision:int}/{name:path}",
        "GET /surveys/{survey:int}/issues/{issue:int}.zip",
        "GET /surveys/{survey:int}/issues/{issue:int}/compare",
        "GET /surveys/{survey:int}/issues/{issue:int}/{name:path}",
        "GET /surveys/{survey:int}/tasks/{task}",
        "GET /surveys/{survey:int}/copies",
        "GET /surveys/{survey:int}/files",
        "GET /surveys/{survey:int}/files/{name:path}",
        "GET /surveys/{survey:int}/stills/{name}",
        "GET /surveys/{survey:int}/site",
        "GET /surveys/{survey:int}/site/questions",
        "GET /api/surveys",
        "GET /api/surveys/{survey:int}/tasks/{task}",
        "GET /api/surveys/{survey:int}/plan",
        "GET /api/surveys/{survey:int}/underlay",
        "GET /api/surveys/{survey:int}/arrivals",
        "POST /api/surveys/{survey:int}/settle",
        "POST /api/surveys/{survey:int}/drag",
    ),
    # Who works on site: trees, the walk, answers, what was recorded and photographed.
    Need.FIELD: (
        "POST /surveys/{survey:int}/trees/rows",
        "POST /surveys/{survey:int}/trees/rows/{key}",
        "POST /surveys/{survey:int}/trees/rows/{key}/remove",
        "POST /surveys/{survey:int}/walk/{found}",
        "POST /surveys/{survey:int}/questions",
        "POST /surveys/{survey:int}/stills",
        "POST /surveys/{survey:int}/speech",
        "POST /surveys/{survey:int}/speech/{task}/stop",
        "POST /surveys/{survey:int}/files",
        "POST /surveys/{survey:int}/files/take",
        "POST /surveys/{survey:int}/files/stop",
        "POST /surveys/{survey:int}/undo",
        "PUT /api/surveys/{survey:int}/trees/{tree}/place",
        "POST /api/surveys/{survey:int}/questions",
        "POST /api/surveys/{survey:int}/arrivals",
        "PUT /api/surveys/{survey:int}/arrivals/{arrival}",
        "DELETE /api/surveys/{survey:int}/arrivals/{arrival}",
        "POST /api/surveys/{survey:int}/undo",
        "POST /api/surveys/{survey:int}/redo",
    ),
    # Who answers for a survey: its works, its papers, what a client gets to see.
    Need.ESTIMATE: (
        "POST /surveys",
        "POST /surveys/import",
        "POST /surveys/{survey:int}/papers/make",
        "POST /surveys/{survey:int}/issues",
        "POST /surveys/{survey:int}/issues/{issue:int}/withdraw",
        "POST /surveys/{survey:int}/tasks/{task}/cancel",
        "GET /surveys/{survey:int}/links",
        "POST /surveys/{survey:int}/names",
        "POST /surveys/{survey:int}/copies",
        "POST /surveys/{survey:int}/files/layers",
        "POST /surveys/{survey:int}/links",
        "POST /surveys/{survey:int}/links/{link:int}/withdraw",
        "POST /api/surveys/{survey:int}/underlay",
        "POST /api/surveys/{survey:int}/works",
        "PUT /api/surveys/{survey:int}/works/{work:path}",
        "DELETE /api/surveys/{survey:int}/works/{work:path}",
        "POST /api/surveys/{survey:int}/copies",
        "POST /api/surveys/{survey:int}/copies/{copy}/adopt",
        "DELETE /api/surveys/{survey:int}/copies/{copy}",
    ),
    # Who answers for the firm: its people.
    Need.OWN: (
        "GET /accounts",
        "POST /accounts",
        "POST /accounts/{account:int}/role",
        "POST /accounts/{account:int}/password",
        "POST /accounts/{account:int}/disable",
        "POST /accounts/{account:int}/enable",
        "POST /accounts/{account:int}/sign-out",
    ),
}

RULES: MappingProxyType[str, Need] = MappingProxyType(
    {route: need for need, routes in _TABLE.items() for route in routes}
)
"""Method and path of a route -> what it needs."""
