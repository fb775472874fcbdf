"""Sign in, say who is signed in, give the password again, sign out.

And set a first password by a one-time token.
"""

import structlog
from fastapi import APIRouter, Request, Response

from service.api.asking import COOKIE, TheAsker, ThePorts, keep_cookie
from service.api.problems import documented
from service.api.wire import FirstPasswordRequest, PasswordRequest, PersonAnswer, SignInAnswer, SignInRequest
from service.use_cases import keep_registers, sign_in

log = structlog.get_logger()
router = APIRouter(prefix="/v1", tags=["sign-in"])


@router.post("/passwords", responses=documented(), summary="Set a password by a one-time token")
def set_password(ports: ThePorts, message: FirstPasswordRequest) -> PersonAnswer:
    """Set the password of the person whom an administrator invited. The token works once."""
    return PersonAnswer.of(keep_registers.take_password(ports, message.token, message.password))


@router.post("/session", status_code=201, responses=documented(429), summary="Sign in")
def begin(ports: ThePorts, request: Request, response: Response, message: SignInRequest) -> SignInAnswer:
    """Sign in, on an enrolled device where its token is given. Failed attempts are limited."""
    signed_in = sign_in.sign_in(ports, message.name, message.password, message.device_token)
    log.info("signed_in", person=signed_in.asker.person_id, device=signed_in.asker.device_id)
    if message.keep == "cookie":
        keep_cookie(request, response, signed_in.token)
        return SignInAnswer.of(signed_in.asker)
    return SignInAnswer.of(signed_in.asker, signed_in.token)


@router.get("/session", responses=documented(), summary="Who is signed in")
def show(asker: TheAsker) -> SignInAnswer:
    """Tell who is signed in, with which roles, on which device."""
    return SignInAnswer.of(asker)


@router.post("/session/proof", responses=documented(429), summary="Give the password again")
def prove(
    ports: ThePorts, asker: TheAsker, request: Request, response: Response, message: PasswordRequest
) -> SignInAnswer:
    """Make the sign-in fresh, as the release of a hold point needs it. The old token ends."""
    signed_in = sign_in.prove_again(ports, asker, message.password)
    if COOKIE in request.cookies and "authorization" not in request.headers:
        keep_cookie(request, response, signed_in.token)
        return SignInAnswer.of(signed_in.asker)
    return SignInAnswer.of(signed_in.asker, signed_in.token)


@router.delete("/session", status_code=204, responses=documented(), summary="Sign out")
def end(ports: ThePorts, asker: TheAsker, response: Response) -> None:
    """End this sign-in for good."""
    sign_in.sign_out(ports, asker)
    log.info("signed_out", person=asker.person_id)
    response.delete_cookie(COOKIE, path="/")
