"""Made-up requests from the OpenAPI document, right and wrong ones, with a fixed seed."""

import schemathesis
from hypothesis import HealthCheck, Phase, seed, settings
from schemathesis import GenerationMode
from schemathesis.config import SchemathesisConfig
from schemathesis.specs.openapi.checks import negative_data_rejection, positive_data_acceptance

from tests.coop import app_of, embedded_coop

CASES_PER_OPERATION = 40

config = SchemathesisConfig()
config.projects.default.generation.update(modes=[GenerationMode.POSITIVE, GenerationMode.NEGATIVE])
COOP = embedded_coop()
schema = schemathesis.openapi.from_asgi("/openapi.json", app_of(COOP), config=config)


@schema.parametrize()
@seed(20261125)
@settings(
    max_examples=CASES_PER_OPERATION,
    deadline=None,
    database=None,
    phases=[Phase.explicit, Phase.generate],
    suppress_health_check=list(HealthCheck),
)
def test_no_request_breaks_the_service_or_its_description(case: schemathesis.Case) -> None:
    # a request of the right shape may still be refused: the table knows more than the schema
    key = {"Authorization": f"Bearer {COOP.farm}"}
    excluded = [positive_data_acceptance]
    if case.path == "/v1/feedback/batch":
        excluded.append(negative_data_rejection)  # what is wrong in one report refuses that report alone
    case.call_and_validate(headers=key, excluded_checks=excluded)
