"""The price and the planting: their pages."""

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from bolewalk.desk.pages import page
from bolewalk.desk.routes.parsing import sheet_of
from bolewalk.desk.views.price import price_view

__all__ = ["price"]


async def price(request: Request) -> Response:
    """Send the page of the price."""
    sheet = await sheet_of(request)
    return page(request, "price", await run_in_threadpool(price_view, sheet))
