#include "server/server.h"

#include <gmock/gmock.h>
#include <gtest/gtest.h>
#include <httplib.h>
#include <sys/socket.h>
#include <unistd.h>

#include <fstream>
#include <thread>

#include "app/init.h"
#include "app/message.h"
#include "app/power.h"
#include "app/tonight.h"
#include "server/local_network.h"

namespace ng::server {
namespace {

namespace fs = std::filesystem;
using app::Json;
using testing::HasSubstr;

class ServerTest : public testing::Test {
 protected:
  [[nodiscard]] virtual bool lan() const { return false; }
  void SetUp() override {
    folder_ = fs::temp_directory_path() / ("ng_server_" + std::to_string(getpid()));
    fs::remove_all(folder_);
    app::InitRequest request;
    request.folder = folder_ / "sky";
    ASSERT_TRUE(app::init(request, {}).ok());
    std::ofstream(folder_ / "secret.txt") << "not for you";
    auto started = Server::start({folder_ / "sky", 0, 2, lan()});
    ASSERT_TRUE(started.ok()) << started.error().message();
    server_ = *std::move(started);
    client_ = std::make_unique<httplib::Client>("127.0.0.1", server_->port());
    client_->set_read_timeout(20);
  }
  void TearDown() override {
    client_.reset();
    server_.reset();
    fs::remove_all(folder_);
  }

  httplib::Result post(const std::string& path, const Json& json, const httplib::Headers& headers = {}) {
    return client_->Post(path, headers, json.dump(), "application/json");
  }
  static Json json_of(const httplib::Result& result) { return Json::parse(result->body); }

  fs::path folder_;
  std::unique_ptr<Server> server_;
  std::unique_ptr<httplib::Client> client_;
};

TEST_F(ServerTest, AServiceAnswersWhatItsCommandAnswers) {
  const auto got = post("/api/power", {{"night_h", 9}, {"temperature_c", -7}});
  ASSERT_TRUE(got);
  EXPECT_EQ(got->status, 200);
  app::PowerRequest request;
  request.workspace = folder_ / "sky";
  request.night_h = 9;
  request.temperature_c = -7;
  const auto reply = app::power(request, {});
  ASSERT_TRUE(reply.ok());
  EXPECT_EQ(json_of(got), app::to_json(*reply));
}

TEST_F(ServerTest, GivesThePageAndItsRules) {
  const auto page = client_->Get("/");
  ASSERT_TRUE(page);
  EXPECT_EQ(page->status, 200);
  EXPECT_THAT(page->get_header_value("Content-Type"), HasSubstr("text/html"));
  EXPECT_THAT(page->get_header_value("Content-Security-Policy"), HasSubstr("default-src 'none'"));
  EXPECT_EQ(page->get_header_value("X-Content-Type-Options"), "nosniff");
}

TEST_F(ServerTest, AWrongWishIsOneSentence) {
  const auto wrong = post("/api/power", {{"night_hours", 9}});
  EXPECT_EQ(wrong->status, 400);
  EXPECT_THAT(std::string(json_of(wrong)["error"]), HasSubstr("there is no field night_hours; the fields are night_h"));
  const auto broken = client_->Post("/api/power", "{\"night_h\": ", "application/json");
  EXPECT_EQ(broken->status, 400);
  EXPECT_EQ(json_of(broken)["error"], "the body of the request is not JSON");
  EXPECT_EQ(post("/api/nothing", Json::object())->status, 404);
}

TEST_F(ServerTest, ADeeplyNestedBodyIsRefused) {
  const std::string deep = std::string(150000, '[') + std::string(150000, ']');
  for (const char* path : {"/api/power", "/api/jobs/measure"}) {
    const auto got = client_->Post(path, deep, "application/json");
    ASSERT_TRUE(got);
    EXPECT_EQ(got->status, 400);
    EXPECT_THAT(std::string(json_of(got)["error"]), HasSubstr("nested too deeply"));
  }
  // Brackets within words are words.
  const auto words =
      client_->Post("/api/sky", R"({"target": ")" + std::string(100, '[') + R"(\"[["})", "application/json");
  EXPECT_THAT(std::string(json_of(words)["error"]), testing::Not(HasSubstr("nested")));
}

TEST_F(ServerTest, APathThatHasToBeNamedIsNamed) {
  const auto got = post("/api/init", Json::object());
  EXPECT_EQ(got->status, 400);
  EXPECT_THAT(std::string(json_of(got)["error"]), HasSubstr("folder is missing"));
}

TEST_F(ServerTest, LetsNobodyElseIn) {
  const Json empty = Json::object();
  const std::string here = "127.0.0.1:" + std::to_string(server_->port());
  EXPECT_EQ(post("/api/power", empty, {{"Origin", "http://" + here}})->status, 200);
  EXPECT_EQ(post("/api/power", empty, {{"Origin", "http://elsewhere.example"}})->status, 403);
  EXPECT_EQ(post("/api/power", empty, {{"Sec-Fetch-Site", "cross-site"}})->status, 403);
  EXPECT_EQ(client_->Get("/", {{"Host", "elsewhere.example"}})->status, 403);
  // A form of another page can send this type without asking first.
  EXPECT_EQ(client_->Post("/api/power", "{}", "text/plain")->status, 415);
}

TEST_F(ServerTest, NothingOutsideOfTheWorkspaceIsReached) {
  for (const char* path : {"../secret.txt", "%2e%2e/secret.txt", "/etc/passwd", "frames/../../secret.txt"}) {
    for (const char* service : {"/api/file?path=", "/api/picture?path="}) {
      const auto got = client_->Get((std::string(service) + path).c_str());
      ASSERT_TRUE(got);
      EXPECT_NE(got->status, 200) << service << path;
      EXPECT_THAT(got->body, testing::Not(HasSubstr("not for you")));
    }
  }
  EXPECT_EQ(client_->Get("/../secret.txt")->status, 404);
  const auto got = post("/api/jobs/measure", {{"file", "../secret.txt"}});
  const int id = json_of(got)["id"];
  Json job;
  for (int i = 0; i < 200; ++i) {
    job = json_of(client_->Get("/api/jobs/" + std::to_string(id)));
    if (job["state"] == "failed") break;
    std::this_thread::sleep_for(std::chrono::milliseconds(20));
  }
  EXPECT_THAT(std::string(job["error"]), HasSubstr("outside of the workspace"));
}

TEST_F(ServerTest, AHugeBodyIsRefused) {
  const auto got = client_->Post("/api/power", std::string(3 << 20, ' '), "application/json");
  if (got) {
    EXPECT_EQ(got->status, 413);  // or the connection was cut before all was sent
  }
  EXPECT_EQ(post("/api/power", Json::object())->status, 200);
}

TEST_F(ServerTest, AJobIsWatchedToItsEndByTwo) {
  const auto started = post("/api/jobs/reduce", {{"folder", "frames"}, {"out", "masters"}});
  const std::string path = "/api/jobs/" + std::to_string(int(json_of(started)["id"])) + "/events";
  const auto watch = [&](std::string& seen) {
    httplib::Client watcher("127.0.0.1", server_->port());
    watcher.Get(path.c_str(), [&](const char* data, std::size_t n) {
      seen.append(data, n);
      return true;
    });
  };
  std::string one, other;
  std::thread second([&] { watch(other); });
  watch(one);
  second.join();
  for (const std::string& seen : {one, other}) {
    EXPECT_THAT(seen, HasSubstr("event: job"));
    EXPECT_THAT(seen, HasSubstr("\"state\":\"failed\""));  // the folder is empty
    EXPECT_THAT(seen, HasSubstr("the folder holds no frames"));
  }
}

TEST_F(ServerTest, StopsWhileSomeoneWatches) {
  const auto started = post("/api/jobs/reduce", {{"folder", "frames"}, {"out", "masters"}});
  const std::string path = "/api/jobs/" + std::to_string(int(json_of(started)["id"])) + "/events";
  std::thread watcher([port = server_->port(), path] {
    httplib::Client client("127.0.0.1", port);
    client.Get(path.c_str());
  });
  server_.reset();
  watcher.join();
}

TEST_F(ServerTest, ASilentConnectionHoldsNobodyUp) {
  std::vector<int> silent;
  sockaddr_in address{};
  address.sin_family = AF_INET;
  address.sin_port = htons(static_cast<std::uint16_t>(server_->port()));
  address.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
  for (int i = 0; i < 40; ++i) {
    const int s = socket(AF_INET, SOCK_STREAM, 0);
    ASSERT_EQ(connect(s, reinterpret_cast<sockaddr*>(&address), sizeof address), 0);
    ASSERT_EQ(write(s, "POST /api/power HTTP/1.1\r\nHost", 29), 29);
    silent.push_back(s);
  }
  EXPECT_EQ(post("/api/power", Json::object())->status, 200);
  for (const int s : silent) close(s);
}

class LanTest : public ServerTest {
 protected:
  [[nodiscard]] bool lan() const override { return true; }
  // As a neighbour would: through this machine's own address on the network.
  void SetUp() override {
    ServerTest::SetUp();
    if (server_->addresses().size() < 2) GTEST_SKIP() << "SKIP: this machine is on no network";
    address_ = server_->addresses()[1];
    neighbour_ = std::make_unique<httplib::Client>(address_);
  }
  httplib::Result ask(const httplib::Headers& headers = {}) {
    return neighbour_->Post("/api/power", headers, "{}", "application/json");
  }
  httplib::Result pair(const std::string& code) {
    return neighbour_->Post("/api/pair", Json{{"code", code}}.dump(), "application/json");
  }
  std::string address_;
  std::unique_ptr<httplib::Client> neighbour_;
};

TEST_F(LanTest, ANeighbourSeesThePageAndNothingElseUntilItIsPaired) {
  EXPECT_EQ(neighbour_->Get("/")->status, 200);
  EXPECT_EQ(json_of(neighbour_->Get("/api/pair")), Json({{"paired", false}}));
  EXPECT_EQ(ask()->status, 401);
  for (const char* path : {"/api/jobs", "/api/picture?path=a", "/api/file?path=a", "/api/jobs/1/events"})
    EXPECT_EQ(neighbour_->Get(path)->status, 401) << path;
  EXPECT_EQ(pair("AAAA-AAAA")->status, 401);
  const auto paired = pair(server_->pairing_code());
  ASSERT_EQ(paired->status, 200);
  const std::string cookie = paired->get_header_value("Set-Cookie");
  EXPECT_THAT(cookie, testing::AllOf(HasSubstr("HttpOnly"), HasSubstr("SameSite=Strict")));
  const std::string token = cookie.substr(0, cookie.find(';'));
  EXPECT_EQ(ask({{"Cookie", token}})->status, 200);
  EXPECT_EQ(json_of(neighbour_->Get("/api/pair", {{"Cookie", token}})), Json({{"paired", true}}));
  EXPECT_EQ(ask({{"Cookie", token + "X"}})->status, 401);
  EXPECT_EQ(ask({{"Cookie", token}, {"Origin", "http://elsewhere.example"}})->status, 403);
  EXPECT_EQ(ask({{"Cookie", token}, {"Host", "elsewhere.example"}})->status, 403);
  EXPECT_EQ(post("/api/power", Json::object())->status, 200);  // this machine needs no token
}

TEST_F(LanTest, GuessingIsSlow) {
  for (int i = 0; i < 6; ++i) EXPECT_EQ(pair("2222-2222")->status, 401);
  EXPECT_EQ(pair("2222-2222")->status, 429);
}

TEST_F(ServerTest, WithoutTheNetworkNothingListensThere) {
  EXPECT_EQ(server_->pairing_code(), "");
  EXPECT_EQ(post("/api/pair", {{"code", ""}})->status, 404);
  for (const LocalNetwork& n : local_networks()) {
    httplib::Client outside(format_ipv4(n.address), server_->port());
    EXPECT_FALSE(outside.Get("/"));
  }
}

TEST_F(ServerTest, ATakenPortIsSaid) {
  const auto second = Server::start({folder_ / "sky", server_->port(), 1});
  ASSERT_FALSE(second.ok());
  EXPECT_THAT(second.error().message(), HasSubstr("is taken by another program"));
}

}  // namespace
}  // namespace ng::server
