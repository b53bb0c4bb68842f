from django.http import HttpResponse
from django.shortcuts import render

from apps.operation.http import Request


def review(request: Request) -> HttpResponse:
    return render(request, "season/review.html", {})
