#include "daemon/ingest/connect_trouble.h"

#include <fstream>

#include <doctest/doctest.h>

#include "tests/support/scratch_folder.h"

using namespace rimeward;

TEST_CASE("a password is the first line of its file, without the end of the line") {
  const ScratchFolder folder;
  const std::string file = (folder / "password").string();
  for (const char* text :
       {"rime", "rime\n", "rime\r\n", "rime\n# of the shed's broker\n"}) {
    CAPTURE(text);
    std::ofstream(file) << text;
    CHECK(read_password(file).value() == "rime");
  }
  CHECK(read_password("").value().empty());
  CHECK_FALSE(read_password((folder / "missing").string()));
}

TEST_CASE("a refusal names the key to look at, and asks for a person") {
  Broker broker;
  broker.address = "mqtt://127.0.0.1:1883";
  const LinkEvent password = connect_trouble(broker, 5);
  CHECK(password.kind == LinkEvent::Kind::kRefused);
  CHECK(password.text ==
        "mqtt://127.0.0.1:1883: refused the user name or password (return code 5); check "
        "[broker] user and password_file");
  CHECK(connect_trouble(broker, -1).kind == LinkEvent::Kind::kUnreachable);
}
