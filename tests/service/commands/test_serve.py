"""The service as a newcomer starts it: on a fresh folder, with the example, with a certificate."""

import datetime as dt
import ipaddress

import httpx2
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec

from service.command_line import main
from tests.driving import Service, first_administrator

pytestmark = pytest.mark.timeout(90)


def certificate(folder):
    """Return the files of a certificate for loopback that this test alone trusts."""
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "a site's own authority")])
    now = dt.datetime.now(dt.UTC)
    built = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=1))
        .not_valid_after(now + dt.timedelta(days=1))
        .add_extension(
            x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]), critical=False
        )
        .sign(key, hashes.SHA256())
    )
    cert_file, key_file = folder / "cert.pem", folder / "key.pem"
    cert_file.write_bytes(built.public_bytes(serialization.Encoding.PEM))
    plain = serialization.NoEncryption()
    form = serialization.PrivateFormat.PKCS8
    key_file.write_bytes(key.private_bytes(serialization.Encoding.PEM, form, plain))
    return cert_file, key_file


def test_a_first_start_prints_address_key_and_a_one_time_link_that_works(tmp_path):
    with Service(tmp_path / "data") as service:
        assert len(service.find(r"^Signing key: ([0-9a-f]{64})$")) == 64
        administrator = first_administrator(service)
        assert administrator.ok(administrator.get("/v1/session"))["roles"] == ["administrator"]
        assert administrator.get("/health").json() == {"record": True, "waiting": 0}


def test_the_example_starts_at_its_first_photo_step_with_two_sign_ins_printed(tmp_path):
    with Service(tmp_path / "data", "--example") as service:
        token = service.find(r"#device=(\S+)$")
        technician = service.caller()
        name, password = (
            service.find(r"^technician: sign in as (\S+)"),
            service.find(r"^technician: .* (\S+)$"),
        )
        technician.sign_in(name, password, token)
        technician.job = service.find(r"^Job (\S+)")
        step = technician.view()["open_steps"][0]
        assert step["checkpoint"] is not None
        verifier = service.caller()
        verifier.sign_in(service.find(r"^verifier: sign in as (\S+)"), service.find(r"^verifier: .* (\S+)$"))
        assert [line["step"] for line in verifier.ok(verifier.get("/v1/desk"))] == [step["id"]]


def test_the_example_never_mixes_with_a_site_that_is_there(tmp_path, capsys):
    with Service(tmp_path / "data"):
        pass
    assert main(["serve", "--data", str(tmp_path / "data"), "--example", "--port", "0"]) == 2
    assert "holds a site already" in capsys.readouterr().err


def test_with_a_certificate_it_serves_https(tmp_path):
    cert_file, key_file = certificate(tmp_path)
    with Service(tmp_path / "data", "--tls-cert", str(cert_file), "--tls-key", str(key_file)) as service:
        assert service.address.startswith("https://127.0.0.1:")
        import ssl

        trusting = ssl.create_default_context(cafile=str(cert_file))
        answer = httpx2.get(f"{service.address}/health", verify=trusting)
        assert answer.status_code == 200


def test_an_unusable_setting_is_named_and_nothing_starts(tmp_path):
    with pytest.raises(AssertionError, match="workers"):
        Service(tmp_path / "data", workers="many")
