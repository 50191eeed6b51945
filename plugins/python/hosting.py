"""Speaks the plugin contract of Rootward: what to know of it is in docs/plugin-contract.md.

It needs python3-grpcio, python3-protobuf and python3-cryptography. Nothing of it is
about any rule: copy it as it is.
"""

import base64
import datetime
import json
import os
import pkgutil
import sys
import tempfile
import threading
import time
from concurrent import futures

CONTRACT_VERSION = 1
COOKIE = ("ROOTWARD_RULE_PLUGIN", "rule-table")
CLIENT_CERTIFICATE = "PLUGIN_CLIENT_CERT"
EXIT_FAULTY = 1
EXIT_USAGE = 2


def main(argv, table):
    """Does what the arguments ask for and gives the exit code."""
    pb = messages()
    if argv[1:] == ["--describe"]:
        print(json.dumps(description(table(pb)), indent=2))
        return 0
    if argv[1:] == ["--table"]:  # for the build, which computes the digest
        sys.stdout.buffer.write(table(pb).SerializeToString(deterministic=True))
        return 0
    if len(argv) > 1 or os.environ.get(COOKIE[0]) != COOKIE[1]:
        print("This is a Rootward rule plugin: the server starts it. It does nothing when started by hand. "
              "To see whose rules it holds, run it with --describe", file=sys.stderr)
        return EXIT_USAGE
    if not os.environ.get(CLIENT_CERTIFICATE):
        print(f"{CLIENT_CERTIFICATE} is not set: the plugin serves only a host that gives its certificate by it", file=sys.stderr)
        return EXIT_FAULTY
    serve(pb, table)
    return 0


def messages():
    """Gives a function from the full name of a message to its class."""
    from google.protobuf import descriptor_pb2, descriptor_pool, message_factory

    pool = descriptor_pool.DescriptorPool()
    files = descriptor_pb2.FileDescriptorSet.FromString(pkgutil.get_data(__name__, "contract.binpb"))
    for f in files.file:
        pool.Add(f)
    factory = message_factory.MessageFactory(pool)
    return lambda name: factory.GetPrototype(pool.FindMessageTypeByName(name))


def description(t):
    """Gives what the plugin says of itself before any handshake."""
    m = t.manifest
    return {
        "contract_version": CONTRACT_VERSION, "rule_set_id": m.rule_set_id, "version": m.version, "title": m.title,
        "publisher": m.publisher, "layer": word_of(m, "layer"), "scope": m.scope, "valid_from": date(m.valid_from),
        "valid_to": date(m.valid_to), "review_by": date(m.review_by), "rows": len(t.rows), "cases": len(t.cases),
        "digest": pkgutil.get_data(__name__, "digest.txt").decode().strip(),
    }


def word_of(message, field):
    enum = message.DESCRIPTOR.fields_by_name[field].enum_type
    return enum.values_by_number[getattr(message, field)].name.removeprefix("LAYER_").lower()


def date(d):
    return f"{d.year:04}-{d.month:02}-{d.day:02}" if d.year else ""


def serve(pb, table):
    """Serves the table until the host asks to end or is gone."""
    import grpc

    # Before the handshake: once the host has read it, it may be gone.
    parent = os.getppid()
    server = grpc.server(futures.ThreadPoolExecutor(max_workers=2))
    ended = threading.Event()
    server.add_generic_rpc_handlers((Calls(grpc, pb, table, ended.set),))
    folder = os.environ.get("PLUGIN_UNIX_SOCKET_DIR") or tempfile.mkdtemp()
    path = os.path.join(folder, "rules-" + os.urandom(4).hex())  # the folder may have those of others
    certificate = listen(grpc, server, "unix:" + path)
    server.start()
    print(f"1|{CONTRACT_VERSION}|unix|{path}|grpc|{certificate}", flush=True)
    threading.Thread(target=watch_parent, args=(parent, ended.set), daemon=True).start()
    ended.wait()
    server.stop(grace=1).wait()
    if os.path.exists(path):
        os.remove(path)


class Calls:
    """Finds the function for each call that a host makes."""

    def __init__(self, grpc, pb, table, end):
        self.grpc, self.pb, self.table, self.end = grpc, pb, table, end
        self.known = {
            "/rootward.plugin.v1.RulePluginService/Compile": self.compile,
            "/grpc.health.v1.Health/Check": lambda request, context: b"\x08\x01",  # SERVING
            "/plugin.GRPCController/Shutdown": self.shutdown,
        }

    def service(self, details):
        """Implements grpc.GenericRpcHandler: messages come and go as bytes."""
        call = self.known.get(details.method)
        return call and self.grpc.unary_unary_rpc_method_handler(call)

    def compile(self, request, context):
        q = self.pb("rootward.plugin.v1.CompileRequest").FromString(request)
        if q.contract_version != CONTRACT_VERSION:
            context.abort(self.grpc.StatusCode.FAILED_PRECONDITION,
                          f"this plugin speaks version {CONTRACT_VERSION} of the plugin contract and the host asked for {q.contract_version}")
        answer = self.pb("rootward.plugin.v1.CompileResponse")()
        answer.table.CopyFrom(self.table(self.pb))
        return answer.SerializeToString(deterministic=True)

    def shutdown(self, request, context):
        self.end()
        return b""


def listen(grpc, server, address):
    """Adds the port, over mutual TLS with the certificate of the host. Gives the plugin's own
    as the handshake wants it: DER in base64 without padding."""
    key, pem, der = own_certificate()
    client = os.environ[CLIENT_CERTIFICATE].encode()
    server.add_secure_port(address, grpc.ssl_server_credentials([(key, pem)], client, True))
    return base64.b64encode(der).decode().rstrip("=")


def own_certificate():
    """Makes a certificate for localhost that lives as long as the process."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(x509.NameOID.COMMON_NAME, "localhost")])
    now = datetime.datetime.utcnow()
    made = (x509.CertificateBuilder().subject_name(name).issuer_name(name).public_key(key.public_key())
            .serial_number(x509.random_serial_number())
            .not_valid_before(now - datetime.timedelta(minutes=1)).not_valid_after(now + datetime.timedelta(days=3650))
            .add_extension(x509.SubjectAlternativeName([x509.DNSName("localhost")]), critical=False)
            .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
            .sign(key, hashes.SHA256()))
    pem = serialization.Encoding.PEM
    return (key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()),
            made.public_bytes(pem), made.public_bytes(serialization.Encoding.DER))


def watch_parent(first, end):
    """Ends the plugin once its host is gone: an orphan is given to another parent."""
    while os.getppid() == first:
        time.sleep(1)
    end()
