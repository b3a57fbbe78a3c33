"""Words that are said to people and are not marked to be translated, in templates, in Python and in layouts."""

import ast
import re

from jinja2 import Environment, nodes

from tests.rules.tree import ROOT

APP = ROOT / "app"
TEMPLATES = APP / "web" / "templates"
LAYOUTS = APP / "sheets" / "typst"
# What says words, or marks them for later.
SAYS = frozenset({"_", "gettext", "ngettext", "pgettext", "N_", "nouns", "count_words"})
# Attributes of HTML that people read or hear.
READ_ALOUD = re.compile(r'\s(?:title|aria-label|aria-description|placeholder|alt|label|data-label)="([^"]*)"')
ADDRESSES = frozenset({"url_for", "way", "href"})
# Python whose words people read; the rest gives kinds and figures, or speaks to programs and to the terminal.
SPOKEN = ("web", "sheets")
LETTERS = re.compile(r"[A-Za-z]{2,}")
SENTENCE = re.compile(r"[A-Za-z’,;:)]{2,} [A-Za-z(]{2,}|^[A-Z][a-z]+[.:?]?$")

GLUED = re.compile(r"[A-Za-z]{2,}[^A-Za-z]* [^A-Za-z]*[A-Za-z]{2,}|[A-Za-z]{2,} …|… [A-Za-z]{2,}")


def find_in_template(source, environment):
    """Return the words of a template that are not marked: (line, words)."""
    plain = "".join(html_of(source, environment))
    plain = re.sub(r"<!--.*?-->", lambda comment: "\n" * comment.group().count("\n"), plain, flags=re.DOTALL)
    found, at = [], 0
    for tag in [*re.finditer(r"<[^<>]*>", plain), None]:
        start, end = (tag.start(), tag.end()) if tag else (len(plain), len(plain))
        words = plain[at:start]
        if LETTERS.search(re.sub(r"&#?\w+;", "", words)):
            lead = len(words) - len(words.lstrip("\0\n "))
            found.append((line_at(plain, at + lead), " ".join(re.sub("\0+", "…", words).split())))
        found += [
            (line_at(plain, start), words)
            for words in (READ_ALOUD.findall(tag.group()) if tag else ())
            if LETTERS.search(words)
        ]
        at = end
    tree = environment.parse(source)
    skipped = set()
    for call in tree.find_all(nodes.Call):
        silent = [call] if name_of(call) in SAYS | ADDRESSES else [one for one in call.kwargs if one.key == "class"]
        skipped |= {id(one) for part in silent for one in part.find_all(nodes.Const)}
    found += [
        (one.lineno, one.value)
        for one in tree.find_all(nodes.Const)
        if id(one) not in skipped and isinstance(one.value, str) and SENTENCE.search(one.value)
    ]
    return sorted(found)


def html_of(source, environment):
    """Yield the HTML of a template, with a mark in place of what is worked out or is to be translated."""
    silent, block = False, []
    for _line, kind, value in environment.lexer.tokeniter(source, None):
        if kind == "block_begin":
            block = []
        elif kind == "name":
            block.append(value)
        elif kind == "block_end":
            ends = block[0] in {"endtrans", "endblock"}
            silent = block[0] == "trans" or block[:2] == ["block", "class"] or (silent and not ends)
        yield value if kind == "data" and not silent else "\0" + "\n" * value.count("\n")


def name_of(call):
    """Return the name of the function that a template calls, if it has one."""
    return getattr(call.node, "name", "")


def line_at(text, at):
    """Return the number of the line of a place in a text."""
    return text.count("\n", 0, at) + 1


def find_in_python(source):
    """Return the sentences and capital words of a module that are not marked: (line, words)."""
    tree = ast.parse(source)
    skipped = {id(one) for node in ast.walk(tree) for one in said_to_nobody(node)}
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.JoinedStr):
            words = "".join(one.value if isinstance(one, ast.Constant) else "…" for one in node.values)
            if GLUED.search(words):
                found.append((node.lineno, words))
        elif isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in skipped:
            found += [(node.lineno, node.value)] if SENTENCE.search(node.value) else []
    return found


def said_to_nobody(node):
    """Yield the texts below a node that are marked, or that are no words for people: docstrings and types."""
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        yield node.value
    elif isinstance(node, ast.Call) and getattr(node.func, "id", getattr(node.func, "attr", "")) in SAYS:
        yield from node.args
    elif isinstance(node, ast.JoinedStr):
        yield from node.values
    else:
        types = getattr(node, "annotation", None) or getattr(node, "returns", None)
        yield from ast.walk(types) if types else ()


def find_in_layout(source):
    """Return the words of a typst layout that are not marked: what stands in brackets as content."""
    plain = re.sub(r"//.*", "", source)
    plain = re.sub(r'\bt\("(?:[^"\\]|\\.)*"', "t(", plain)
    found = []
    for match in re.finditer(r"\[([^\[\]]*)\]", plain):
        words = re.sub(r'#[\w.]+(?:\([^()]*\))?|"[^"]*"', "", match.group(1))
        if LETTERS.search(words):
            found.append((line_at(plain, match.start()), " ".join(words.split())))
    return found


def templates():
    """Return the templates with their paths."""
    return sorted(TEMPLATES.rglob("*.html"))


def modules():
    """Return the modules whose words people read."""
    return sorted(path for part in SPOKEN for path in (APP / part).rglob("*.py"))


def environment():
    """Return what reads templates as the program does."""
    return Environment(extensions=["jinja2.ext.i18n", "jinja2.ext.do"], autoescape=True)
