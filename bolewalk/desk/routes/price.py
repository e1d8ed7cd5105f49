"""The price and the planting: their pages, shown at once and filled in when they are known."""

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from bolewalk.desk.pages import page
from bolewalk.desk.routes.parsing import sheet_of
from bolewalk.desk.views.planting import planting_view
from bolewalk.desk.views.price import price_view
from bolewalk.desk.views.reckoning import reckoning_view

__all__ = ["planting", "price"]


async def price(request: Request) -> Response:
    """Send the page of the price."""
    sheet = await sheet_of(request)
    if not await run_in_threadpool(sheet.reckoning.begin):
        return page(request, "reckoning", reckoning_view((sheet,), "price", "The price"))
    return page(request, "price", await run_in_threadpool(price_view, sheet))


async def planting(request: Request) -> Response:
    """Send the page of the planting, in the year asked for (?year=10)."""
    sheet = await sheet_of(request)
    if not await run_in_threadpool(sheet.reckoning.begin):
        return page(request, "reckoning", reckoning_view((sheet,), "planting", "The planting"))
    asked = request.query_params.get("year", "10")
    year = int(asked) if asked.isdecimal() and len(asked) < 4 else 10
    view = await run_in_threadpool(lambda: planting_view(sheet, year=year))
    return page(request, "planting", view)
