"""How every page of the bench answers: the whole page, or only its answer while someone types."""

from dataclasses import replace
from urllib.parse import urlencode

from django.shortcuts import render
from django.utils.cache import patch_vary_headers
from django_htmx.http import replace_url

from equipment.queries.bench.answers import refused
from equipment.queries.bench.questions import question


def answered(request, name, form, compute):
    """Answer a question of the bench.

    name: that of the address; form: a QuestionForm of request.GET; compute: a function of the form's values (as
    keywords) that gives Answers. A ValueError in it, a formula out of its range, becomes the reason that is shown.
    """
    asked, answers = question(name), ()
    if form.is_ready:
        try:
            answers = tuple(compute(**form.values))
        except ValueError as error:
            answers = (refused(error),)
    if answers:
        first, *others = answers
        answers = (replace(first, computed_from=(*form.grounds, *first.computed_from)), *others)
    context = {
        "question": asked, "form": form, "answers": answers, "link": form.address(request.path, filled=True),
        "note_query": note_query(request, asked, form, answers),
    }
    part = "_answers.html" if request.htmx else "question.html"
    response = render(request, f"equipment/bench/{part}", context)
    patch_vary_headers(response, ["HX-Request"])
    return replace_url(response, form.address(request.path)) if request.htmx else response


def note_query(request, asked, form, answers):
    """What a new note about the answer begins with, as the query of its address."""
    if not answers or answers[0].is_refused:
        return ""
    said = "\n\n".join(answer.sentence for answer in answers if not answer.is_refused)
    text = f"{said}\n\n[{asked.asks}]({form.address(request.path, filled=True)})"
    return urlencode([("title", asked.asks), ("text", text), *form.note_ties])
