"""An SMTP server on loopback:  mail.py PORT FOLDER none|tls|starttls

Each mail that it takes becomes a line of JSON in FOLDER/taken.jsonl, as Python's own parser reads it, and stands in FOLDER/N.eml as it came. For TLS it
has certificate.py make what it needs in FOLDER.
"""
import asyncio
import email
import email.policy
import json
import pathlib
import ssl
import sys

import certificate
from aiosmtpd.smtp import SMTP, AuthResult

port, folder, security = int(sys.argv[1]), pathlib.Path(sys.argv[2]), sys.argv[3]


class Keeper:
    count = 0

    async def handle_DATA(self, server, session, envelope):
        mail = email.message_from_bytes(envelope.original_content, policy=email.policy.default)
        line = {
            "from": envelope.mail_from,
            "to": envelope.rcpt_tos,
            "headers": {name: str(value) for name, value in mail.items()},
            "body": mail.get_content(),
            "defects": [str(defect) for defect in mail.defects],
            "login": session.auth_data,
        }
        (folder / f"{self.count}.eml").write_bytes(envelope.original_content)
        self.count += 1
        with (folder / "taken.jsonl").open("a", encoding="utf-8") as taken:
            taken.write(json.dumps(line) + "\n")
        return "250 taken"


def login(server, session, envelope, mechanism, data):
    return AuthResult(success=True, auth_data=f"{data.login.decode()}:{data.password.decode()}")


async def main():
    context = None
    if security != "none":
        certificate.make(folder)
        context = ssl.create_default_context(ssl.Purpose.CLIENT_AUTH)
        context.load_cert_chain(folder / "server.pem", folder / "server.key")
    options = {"authenticator": login, "auth_require_tls": security == "starttls", "enable_SMTPUTF8": True}
    if security == "starttls":
        options |= {"tls_context": context, "require_starttls": True, "auth_required": True}

    keeper = Keeper()

    def serve():
        return SMTP(keeper, **options)

    loop = asyncio.get_running_loop()
    server = await loop.create_server(serve, "127.0.0.1", port, ssl=context if security == "tls" else None)
    await server.serve_forever()


asyncio.run(main())
