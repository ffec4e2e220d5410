"""Makes in a folder what a server on localhost needs for TLS:  certificate.py FOLDER

An authority (ca.pem) that signed server.pem with its server.key, and an authority that signed nothing (other.pem); by
openssl, for two days.
"""
import pathlib
import subprocess
import sys

CURVE = ["-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes"]


def openssl(*words):
    subprocess.run(["openssl", *words], check=True, capture_output=True)


def make(folder):
    for name in ("ca", "other"):
        openssl("req", "-x509", *CURVE, "-days", "2", "-subj", f"/CN=test {name}", "-keyout", folder / f"{name}.key",
                "-out", folder / f"{name}.pem", "-addext", "basicConstraints=critical,CA:TRUE")
    openssl("req", *CURVE, "-subj", "/CN=localhost", "-keyout", folder / "server.key", "-out", folder / "server.csr")
    (folder / "names").write_text("subjectAltName=DNS:localhost,IP:127.0.0.1\nbasicConstraints=CA:FALSE\n")
    openssl("x509", "-req", "-in", folder / "server.csr", "-CA", folder / "ca.pem", "-CAkey", folder / "ca.key",
            "-CAcreateserial", "-days", "2", "-extfile", folder / "names", "-out", folder / "server.pem")


if __name__ == "__main__":
    make(pathlib.Path(sys.argv[1]))
