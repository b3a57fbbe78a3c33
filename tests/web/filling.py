"""Filling in forms as a browser does: from the page, with what it holds, changed where a test says so."""

from tests.web.pages import read_page

GUARDS = ("csrf_token", "key", "revision")


def posted_forms(page):
    """Return the forms of a page that are posted."""
    return [form for form in page.all("form") if (form.attributes.get("method") or "").lower() == "post"]


def guards(client, path, page=None):
    """Return what protects the form that goes to `path`: token, key and revision, as the page gives them to it.

    Args:
        client: Who opens the page.
        path: Where the form goes.
        page: A page that has the form; by default the one at `path`. Where it has none that goes there, the token and
            key of another one are returned, and no revision.
    """
    html = client.get(page or path).text
    for at, form in enumerate(posted_forms(read_page(html))):
        if form.attributes.get("action") == path:
            return _only_guards(form_values(html, at))
    return _only_guards(form_values(client.get("/growers/new").text), GUARDS[:2])


def _only_guards(values, names=GUARDS):
    return {name: values[name] for name in names if name in values}


def form_values(html, which=0):
    """Return what a browser would send for one of the page's forms that are posted, by name; else for the first."""
    page = read_page(html)
    form = posted_forms(page)[which]
    values = {}
    for element in page.all("input", "textarea", "select"):
        if element.within("form") is form and element.attributes.get("name"):
            for value in _sent(page, element):
                values.setdefault(element.attributes["name"], []).append(value)
    return values


def _sent(page, element):
    attributes = element.attributes
    if element.tag == "textarea":
        return [element.text.removeprefix("\r\n").removeprefix("\n")]
    if element.tag == "select":
        options = [o for o in page.all("option") if o.within("select") is element]
        chosen = [o for o in options if "selected" in o.attributes] or options[:1]
        return [option.attributes.get("value") or "" for option in chosen]
    if attributes.get("type") in {"checkbox", "radio"}:
        return [attributes.get("value") or "on"] if "checked" in attributes else []
    return [attributes.get("value") or ""]


def send(client, path, **changes):
    """Open a page, change some of its form and send it; a name may have None for what is not sent."""
    opened = client.get(path)
    assert opened.status_code == 200, f"{path} answers {opened.status_code}"
    values = form_values(opened.text)
    missing = set(changes) - set(values) - {"heat", "weekdays", "another", "show", "brings_seed", "theirs"}
    assert not missing, f"the form has no {missing}"
    for name, value in changes.items():
        values[name] = [] if value is None else value if isinstance(value, list) else [str(value)]
    return client.post(path, data=values)


def errors_of(html):
    """Return the words beside each field that is not right, by the field's id."""
    return {
        element.attributes["id"].removesuffix("-error"): " ".join(element.text.split())
        for element in read_page(html).all("p")
        if (element.attributes.get("id") or "").endswith("-error")
    }
