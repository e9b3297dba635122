"""Words for people: texts by message code, names, numbers and units in the reader's language and unit system.

Inside: catalogues, filling them, choosing a language. Outside: which message to send (`usecases`),
the shape of an answer (`api`), the look of a printed sheet (`cli`).
"""

from service.text.catalogue import LANGUAGES, names, render
from service.text.negotiate import negotiate
from service.text.numbers import Language, decimal, quantity, unit_label

__all__ = ["LANGUAGES", "Language", "decimal", "names", "negotiate", "quantity", "render", "unit_label"]
