#include "daemon/post/transfer.h"

#include <algorithm>
#include <array>
#include <chrono>
#include <cstddef>
#include <cstring>
#include <memory>
#include <optional>
#include <stdexcept>
#include <utility>
#include <vector>

#include <curl/curl.h>
#include <fmt/format.h>

#include "daemon/post/secret.h"
#include "daemon/post/trouble.h"

namespace rimeward {
namespace {

using Steady = std::chrono::steady_clock;

constexpr std::size_t kMostOfAnswer = 64 * 1024;
constexpr std::chrono::seconds kGoodbye{2};

// What libcurl reports, in words; "{}" in a remedy is the key of the address.
struct Failure {
  CURLcode code;
  std::string_view happened;
  std::string_view remedy;
};

constexpr std::string_view kBroken = "broke off the connection";
constexpr std::string_view kSeeServer = "see how the server does; it is tried again";
constexpr std::string_view kSeePort =
    "see that scheme and port of [[route]] {} are the server's";

constexpr std::array kFailures{
    Failure{CURLE_URL_MALFORMAT, "is no address to send to", "mend [[route]] {}"},
    Failure{CURLE_COULDNT_RESOLVE_PROXY, "the proxy for it is not known",
            "mend http_proxy, https_proxy or all_proxy in the daemon's environment"},
    Failure{CURLE_COULDNT_RESOLVE_HOST, "no machine of that name is known",
            "see that the network is there, or mend [[route]] {}"},
    Failure{CURLE_COULDNT_CONNECT, "nothing answers there",
            "see that the server runs and can be reached, or mend [[route]] {}"},
    Failure{CURLE_OPERATION_TIMEDOUT, "no answer in time",
            "see how the server does, or raise [[route]] time_limit"},
    Failure{
        CURLE_PEER_FAILED_VERIFICATION, "its certificate was refused",
        "name its authority in [[route]] ca_file, or mend {} where the certificate is "
        "for another name"},
    Failure{CURLE_SSL_CACERT_BADFILE, "[[route]] ca_file holds no authority to trust",
            "see that it is a certificate as PEM, and let the daemon's user read it"},
    Failure{CURLE_SSL_CONNECT_ERROR, "no encryption could be agreed on", kSeePort},
    Failure{
        CURLE_USE_SSL_FAILED, "offers no encryption by STARTTLS, so nothing was sent",
        "write its smtps:// address as [[route]] {}; encrypted = false is for your own "
        "network alone"},
    Failure{CURLE_LOGIN_DENIED, "refused the login",
            "mend [[route]] user or password_file"},
    Failure{CURLE_WEIRD_SERVER_REPLY, "answers nothing that can be understood", kSeePort},
    Failure{CURLE_UNSUPPORTED_PROTOCOL, "answers nothing that can be understood",
            kSeePort},
    Failure{CURLE_GOT_NOTHING, kBroken, kSeeServer},
    Failure{CURLE_SEND_ERROR, kBroken, kSeeServer},
    Failure{CURLE_RECV_ERROR, kBroken, kSeeServer},
};
constexpr Failure kOther{CURLE_OK, "could not be sent to", kSeeServer};

void check(CURLcode code) {
  if (code != CURLE_OK) throw std::runtime_error(curl_easy_strerror(code));
}

// A list of strings as libcurl takes it.
class List {
 public:
  void add(const std::string& text) {
    curl_slist* longer = curl_slist_append(list_.get(), text.c_str());
    if (longer == nullptr) throw std::bad_alloc();
    static_cast<void>(list_.release());
    list_.reset(longer);
  }
  curl_slist* get() const { return list_.get(); }

 private:
  std::unique_ptr<curl_slist, decltype(&curl_slist_free_all)> list_{nullptr,
                                                                    curl_slist_free_all};
};

// The parts of an address.
class Address {
 public:
  explicit Address(const std::string& text) : parts_(curl_url(), curl_url_cleanup) {
    is_good_ = curl_url_set(parts_.get(), CURLUPART_URL, text.c_str(), 0) == CURLUE_OK;
  }

  // "smtp://mail.example.org:587", without what may be a secret.
  std::string server() const {
    if (!is_good_) return "the server";
    const std::string port = part(CURLUPART_PORT);
    return as_said(fmt::format("{}://{}{}{}", part(CURLUPART_SCHEME),
                               part(CURLUPART_HOST), port.empty() ? "" : ":", port));
  }

  std::string path() const { return part(CURLUPART_PATH); }

 private:
  std::string part(CURLUPart which) const {
    char* text = nullptr;
    if (curl_url_get(parts_.get(), which, &text, 0) != CURLUE_OK) return {};
    const std::unique_ptr<char, decltype(&curl_free)> owned(text, curl_free);
    return text;
  }

  std::unique_ptr<CURLU, decltype(&curl_url_cleanup)> parts_;
  bool is_good_ = false;
};

class Transfer {
 public:
  // `key` is that of the address in the settings; `protocols` as libcurl names them.
  Transfer(const std::string& address, std::string key, const char* protocols)
      : address_(address),
        key_(std::move(key)),
        handle_(curl_easy_init(), curl_easy_cleanup) {
    if (!handle_) throw std::runtime_error("libcurl does not start");
    set(CURLOPT_URL, address.c_str());
    set(CURLOPT_PROTOCOLS_STR, protocols);
    set(CURLOPT_ERRORBUFFER, detail_.data());
    set(CURLOPT_NOSIGNAL, 1L);
    set(CURLOPT_NOPROGRESS, 0L);
    set(CURLOPT_XFERINFOFUNCTION, is_late);
    set(CURLOPT_XFERINFODATA, &deadline_);
    set(CURLOPT_FOLLOWLOCATION, 0L);
    set(CURLOPT_SSL_VERIFYPEER, 1L);
    set(CURLOPT_SSL_VERIFYHOST, 2L);
    set(CURLOPT_SSLVERSION, long{CURL_SSLVERSION_TLSv1_2});
    // A look-up of a name that hangs ends with the process.
    set(CURLOPT_QUICK_EXIT, 1L);
  }

  template <class Value>
  void set(CURLoption option, Value value) {
    check(curl_easy_setopt(handle_.get(), option, value));
  }

  void limit(std::chrono::milliseconds time) {
    deadline_ = Steady::now() + time + kGoodbye;
    set(CURLOPT_TIMEOUT_MS, static_cast<long>(time.count()));
  }

  void trust(const std::string& ca_file) {
    if (!ca_file.empty()) set(CURLOPT_CAINFO, ca_file.c_str());
  }

  CURLcode perform() { return curl_easy_perform(handle_.get()); }

  long status() const {
    long code = 0;
    check(curl_easy_getinfo(handle_.get(), CURLINFO_RESPONSE_CODE, &code));
    return code;
  }

  std::string redirect() const {
    char* to = nullptr;
    check(curl_easy_getinfo(handle_.get(), CURLINFO_REDIRECT_URL, &to));
    return to != nullptr ? to : "";
  }

  const Address& address() const { return address_; }

  // From here on only the goodbye is waited for.
  void say_goodbye() { deadline_ = std::min(deadline_, Steady::now() + kGoodbye); }

  // `said`: the server's own word, where there is one.
  std::string trouble(CURLcode code, std::string_view said) const {
    const auto found = std::ranges::find(kFailures, code, &Failure::code);
    const Failure& failure = found != kFailures.end() ? *found : kOther;
    const std::string_view own =
        detail_[0] != '\0' ? detail_.data() : curl_easy_strerror(code);
    return fmt::format("{}: {} ({}); {}", address_.server(), failure.happened,
                       as_said(said.empty() ? own : said),
                       fmt::format(fmt::runtime(failure.remedy), key_));
  }

 private:
  // libcurl's progress function, called at least once a second. libcurl's own time limit
  // does not hold for a goodbye by SMTP, whose answer it awaits for two minutes.
  static int is_late(void* deadline, curl_off_t /*down_all*/, curl_off_t /*down*/,
                     curl_off_t /*up_all*/, curl_off_t /*up*/) {
    return Steady::now() > *static_cast<const Steady::time_point*>(deadline) ? 1 : 0;
  }

  Address address_;
  std::string key_;
  Steady::time_point deadline_;
  std::array<char, CURL_ERROR_SIZE> detail_{};
  std::unique_ptr<CURL, decltype(&curl_easy_cleanup)> handle_;
};

// --- SMTP

// The server's replies (RFC 5321, section 4.2), the last line of each.
struct Replies {
  Transfer& transfer;
  std::vector<std::string> before_letter{};  // up to the 354 that lets the letter come
  std::optional<std::string> to_letter{};    // whether it was taken
  bool goes_ahead = false;                   // the 354 was said
  bool not_now = false;                      // given up at a reply of 4xx
};

bool is_last_line(std::string_view line) {
  const auto is_digit = [](char c) { return c >= '0' && c <= '9'; };
  return line.size() >= 3 && std::ranges::all_of(line.substr(0, 3), is_digit) &&
         (line.size() == 3 || line[3] == ' ');
}

// libcurl's header function. Less than all bytes makes libcurl give up. A server that
// would take the letter for some now and for others later is asked for all of them later:
// nobody is left out, and nobody gets it twice.
std::size_t note_reply(const char* bytes, std::size_t /*one*/, std::size_t size,
                       void* to) {
  auto& replies = *static_cast<Replies*>(to);
  std::string line(bytes, size);
  while (line.ends_with('\n') || line.ends_with('\r'))
    line.pop_back();
  // 221 answers the goodbye, whatever was said before.
  if (!is_last_line(line) || line.starts_with("221")) return size;
  if (!replies.goes_ahead) {
    replies.goes_ahead = line.starts_with("354");
    replies.not_now = line.starts_with('4');
    if (!replies.goes_ahead) replies.before_letter.push_back(std::move(line));
    return replies.not_now ? 0 : size;
  }
  if (!replies.to_letter) {
    replies.to_letter = std::move(line);
    replies.transfer.say_goodbye();
  }
  return size;
}

struct Unread {
  std::string_view text;
};

std::size_t read_letter(char* into, std::size_t one, std::size_t size, void* from) {
  std::string_view& text = static_cast<Unread*>(from)->text;
  const std::size_t length = std::min(one * size, text.size());
  std::memcpy(into, text.data(), length);
  text.remove_prefix(length);
  return length;
}

// The replies to the recipients are the last before the letter, one for each.
std::string left_out(const EmailJob& job, const std::string& server,
                     const Replies& replies) {
  const std::size_t count = job.to.size();
  if (replies.before_letter.size() < count) return {};
  const auto first = replies.before_letter.size() - count;
  std::string whom;
  for (std::size_t i = 0; i < count; ++i) {
    const std::string& reply = replies.before_letter[first + i];
    if (!reply.starts_with('5')) continue;
    whom += fmt::format("{}{} ({})", whom.empty() ? "" : ", ", job.to[i], as_said(reply));
  }
  if (whom.empty()) return {};
  return fmt::format("{}: took the letter, but not for {}; mend [[route]] to", server,
                     whom);
}

Result<std::string> outcome_of(const EmailJob& job, const Transfer& transfer,
                               CURLcode code, const Replies& replies) {
  const std::string server = transfer.address().server();
  const bool taken = replies.to_letter && replies.to_letter->starts_with('2');
  // Whatever went wrong after that, such as with the goodbye.
  if (taken) return left_out(job, server, replies);
  std::string last = replies.to_letter.value_or("");
  if (!replies.to_letter && !replies.before_letter.empty()) {
    last = replies.before_letter.back();
  }
  const bool refused = last.starts_with('4') || last.starts_with('5');
  const bool by_itself = code == CURLE_LOGIN_DENIED || code == CURLE_USE_SSL_FAILED ||
                         code == CURLE_OPERATION_TIMEDOUT;
  if (refused && (replies.not_now || !by_itself)) {
    return refuse(mail_refused(server, last));
  }
  return refuse(transfer.trouble(code, refused ? last : ""));
}

// --- HTTP

// libcurl's write function: counts, and gives up where it is enough.
std::size_t pass_over(const char* /*bytes*/, std::size_t one, std::size_t size,
                      void* counter) {
  std::size_t& read = *static_cast<std::size_t*>(counter);
  read += one * size;
  return read > kMostOfAnswer ? 0 : one * size;
}

}  // namespace

Result<std::string> send_mail(const EmailJob& job, std::string_view message) {
  Unread unread{message};
  List to;
  for (const std::string& one : job.to)
    to.add(one);
  Transfer transfer(job.address, "server", "smtp,smtps");
  Replies replies{transfer};
  transfer.limit(job.time_limit);
  transfer.trust(job.ca_file);
  transfer.set(CURLOPT_USE_SSL, long{job.encrypted ? CURLUSESSL_ALL : CURLUSESSL_NONE});
  transfer.set(CURLOPT_FORBID_REUSE, 1L);  // the goodbye is said within perform()
  if (!job.user.empty()) {
    const auto password = read_secret("password_file", job.password_file);
    if (!password) return tl::unexpected(password.error());
    transfer.set(CURLOPT_USERNAME, job.user.c_str());
    transfer.set(CURLOPT_PASSWORD, password->c_str());
  }
  transfer.set(CURLOPT_MAIL_FROM, job.from.c_str());
  transfer.set(CURLOPT_MAIL_RCPT, to.get());
  // One address that is no more must not keep the letter from all others.
  transfer.set(CURLOPT_MAIL_RCPT_ALLLOWFAILS, 1L);
  transfer.set(CURLOPT_UPLOAD, 1L);
  transfer.set(CURLOPT_INFILESIZE_LARGE, static_cast<curl_off_t>(message.size()));
  transfer.set(CURLOPT_READFUNCTION, read_letter);
  transfer.set(CURLOPT_READDATA, &unread);
  transfer.set(CURLOPT_HEADERFUNCTION, note_reply);
  transfer.set(CURLOPT_HEADERDATA, &replies);
  const CURLcode code = transfer.perform();
  return outcome_of(job, transfer, code, replies);
}

Result<void> send_post(const HttpJob& job) {
  std::size_t read = 0;
  List headers;
  headers.add("Content-Type: " + job.content_type);
  headers.add("Idempotency-Key: " + job.id);
  headers.add("User-Agent: rimeward/" RIMEWARD_VERSION);
  for (const std::string& one : job.headers)
    headers.add(one);
  if (!job.bearer_file.empty()) {
    const auto token = read_secret("bearer_file", job.bearer_file);
    if (!token) return tl::unexpected(token.error());
    headers.add("Authorization: Bearer " + *token);
  }
  Transfer transfer(job.address, "url", "http,https");
  transfer.limit(job.time_limit);
  transfer.trust(job.ca_file);
  transfer.set(CURLOPT_POST, 1L);
  transfer.set(CURLOPT_POSTFIELDS, job.content.data());
  transfer.set(CURLOPT_POSTFIELDSIZE_LARGE, static_cast<curl_off_t>(job.content.size()));
  transfer.set(CURLOPT_HTTPHEADER, headers.get());
  transfer.set(CURLOPT_WRITEFUNCTION, pass_over);
  transfer.set(CURLOPT_WRITEDATA, &read);
  const CURLcode code = transfer.perform();
  const auto status = static_cast<int>(transfer.status());
  // The status is the server's word, whatever became of the rest of its answer.
  if (status >= 200 && status < 300) return {};
  if (status < 200) return refuse(transfer.trouble(code, ""));
  return refuse(post_refused(transfer.address().server(), status, transfer.redirect(),
                             transfer.address().path()));
}

}  // namespace rimeward
