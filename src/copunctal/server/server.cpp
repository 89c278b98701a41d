// The one translation unit that knows Beast and Asio.
//
// Arguments reach coroutines as parameters of named functions, never as captures: g++ 12 destroys
// a capturing lambda inside a co_await expression twice.
#include "copunctal/server/server.h"

#include <atomic>
#include <boost/asio/as_tuple.hpp>
#include <boost/asio/awaitable.hpp>
#include <boost/asio/co_spawn.hpp>
#include <boost/asio/detached.hpp>
#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/ip/v6_only.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/signal_set.hpp>
#include <boost/asio/ssl/context.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/strand.hpp>
#include <boost/asio/thread_pool.hpp>
#include <boost/asio/use_awaitable.hpp>
#include <boost/beast/core.hpp>
#include <boost/beast/http.hpp>
#include <boost/beast/ssl.hpp>
#include <csignal>
#include <list>
#include <map>
#include <memory>
#include <mutex>
#include <set>
#include <string>
#include <thread>
#include <vector>

#include "copunctal/base/expects.h"
#include "copunctal/server/guard.h"
#include "copunctal/server/refusal.h"
#include "copunctal/server/rehearsal.h"

namespace copunctal {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using asio::ip::tcp;
using boost::system::error_code;

constexpr auto with_code = asio::as_tuple(asio::use_awaitable);
constexpr std::chrono::seconds refused_body_drain{2};
constexpr std::chrono::seconds farewell{1};
constexpr std::size_t read_size = 4096;

using RequestParser = http::request_parser<http::string_body>;

/// A socket, encrypted or not: what Beast asks of a stream, whose deadlines are the socket's.
class Stream {
 public:
  using executor_type = beast::tcp_stream::executor_type;

  /// Encrypted with a context, which must outlive it.
  Stream(tcp::socket socket, asio::ssl::context* tls) : tcp_(std::move(socket)) {
    if (tls != nullptr) tls_.emplace(tcp_, *tls);
  }
  Stream(const Stream&) = delete;  // what encrypts refers to the socket
  Stream& operator=(const Stream&) = delete;
  executor_type get_executor() { return tcp_.get_executor(); }
  beast::tcp_stream& plain() { return tcp_; }
  beast::ssl_stream<beast::tcp_stream&>* tls() { return tls_ ? &*tls_ : nullptr; }

  template <class Buffers, class Token>
  auto async_read_some(const Buffers& buffers, Token&& token) {
    if (tls_) return tls_->async_read_some(buffers, std::forward<Token>(token));
    return tcp_.async_read_some(buffers, std::forward<Token>(token));
  }
  template <class Buffers, class Token>
  auto async_write_some(const Buffers& buffers, Token&& token) {
    if (tls_) return tls_->async_write_some(buffers, std::forward<Token>(token));
    return tcp_.async_write_some(buffers, std::forward<Token>(token));
  }

 private:
  beast::tcp_stream tcp_;
  std::optional<beast::ssl_stream<beast::tcp_stream&>> tls_;
};

struct Connection {
  Connection(tcp::socket socket, asio::ssl::context* tls, Arrival from)
      : stream(std::move(socket), tls), arrival(std::move(from)) {}
  Stream stream;
  Arrival arrival;
  beast::flat_buffer buffer{2 * static_cast<std::size_t>(largest_header)};
  bool is_idle = false;  ///< Waiting for a request to begin. Touched on the strand only.
};

/// An address of ours that takes connections.
struct Listening {
  tcp::acceptor acceptor;
  bool is_for_the_class = false;
};

/// TLS 1.2 and newer, with forward secrecy; of 1.2 only ciphers that authenticate what they hide.
asio::ssl::context context_with(const Credentials& credentials) {
  asio::ssl::context context(asio::ssl::context::tls_server);
  context.set_options(asio::ssl::context::no_sslv2 | asio::ssl::context::no_sslv3 |
                      asio::ssl::context::no_tlsv1 | asio::ssl::context::no_tlsv1_1 |
                      asio::ssl::context::no_compression);
  SSL_CTX* const handle = context.native_handle();
  expects(SSL_CTX_set_min_proto_version(handle, TLS1_2_VERSION) == 1);
  expects(SSL_CTX_set_cipher_list(handle,
                                  "ECDHE-ECDSA-AES128-GCM-SHA256:ECDHE-ECDSA-AES256-GCM-SHA384:"
                                  "ECDHE-ECDSA-CHACHA20-POLY1305") == 1);
  SSL_CTX_set_options(handle, SSL_OP_NO_RENEGOTIATION | SSL_OP_CIPHER_SERVER_PREFERENCE);
  context.use_certificate(asio::buffer(credentials.certificate_pem), asio::ssl::context::pem);
  context.use_private_key(asio::buffer(credentials.key_pem), asio::ssl::context::pem);
  return context;
}

Request request_in(RequestParser& parser, const Arrival& arrival) {
  const auto& message = parser.get();
  Request request;
  request.arrival = arrival;
  request.method = message.method_string();
  request.target = message.target();
  for (const auto& field : message) {
    std::string name = field.name_string();
    for (char& c : name) c = c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
    request.headers.emplace_back(std::move(name), field.value());
  }
  request.body = std::move(parser.get().body());
  return request;
}

/// Whether a target is the route that takes pictures, whatever it asks.
bool is_picture_target(std::string_view target) {
  return target.substr(0, target.find('?')) == picture_path;
}

/// What to say to bytes that are no acceptable request; status 0: nothing, just hang up.
Refusal refusal_of_bytes(error_code trouble) {
  if (trouble == http::error::body_limit)
    return {413,
            Error{Error::Kind::usage, "the request is larger than 1 MB (a picture: than 20 MB)",
                  "body", "", "send less at once"}};
  if (trouble == http::error::header_limit || trouble == http::error::buffer_overflow)
    return {400, Error{Error::Kind::usage, "the request's header is too long", "header", "",
                       "send fewer or shorter headers"}};
  const bool is_grammar =
      trouble.category() == http::make_error_code(http::error::bad_method).category() &&
      trouble != http::error::end_of_stream && trouble != http::error::partial_message;
  if (is_grammar)
    return {400, Error{Error::Kind::usage, "this is not a proper HTTP request", "request", "",
                       "use a web browser"}};
  return {0, Error{Error::Kind::io, ""}};
}

asio::awaitable<Response> compute(const Site& site, Request request) {
  co_return site.answer(request);
}

/// The server's parts; lives on serve()'s stack.
class Service {
 public:
  Service(const Site& site, const ServerOptions& options)
      : site_(site),
        options_(options),
        control_(asio::make_strand(io_)),
        signals_(control_, SIGINT, SIGTERM),
        drain_timer_(control_),
        closing_timer_(control_),
        pool_(options.handlers) {}

  Result<void> bind();
  std::uint16_t port() const { return port_; }
  void run();

 private:
  Result<void> listen_on(const tcp::endpoint& endpoint, bool is_for_the_class);
  Result<void> listen_for_the_class(const ClassListener& listener);
  asio::awaitable<void> accept(Listening& listening);
  bool has_room(const Arrival& arrival);
  asio::awaitable<void> converse(std::shared_ptr<Connection> connection);
  asio::awaitable<void> answer_all(Connection& connection);
  asio::awaitable<bool> serve_one(Connection& connection);
  asio::awaitable<bool> await_request(Connection& connection);
  asio::awaitable<bool> invite_body(Connection& connection, const RequestParser& parser);
  asio::awaitable<void> refuse_bytes(Connection& connection, error_code trouble);
  asio::awaitable<bool> write(Connection& connection, const Response& response, unsigned version,
                              bool keep_alive, bool with_body);
  asio::awaitable<void> hang_up(Connection& connection);
  void stop();
  void close_the_class();
  void join(const std::shared_ptr<Connection>& connection);
  void leave(const std::shared_ptr<Connection>& connection);

  const Site& site_;
  const ServerOptions& options_;
  asio::io_context io_;
  asio::strand<asio::io_context::executor_type> control_;  // accepting and stopping, one at a time
  std::list<Listening> listening_;
  std::optional<asio::ssl::context> tls_;
  asio::signal_set signals_;
  asio::steady_timer drain_timer_, closing_timer_;
  std::uint16_t port_ = 0;
  std::atomic<bool> is_stopping_ = false;
  std::mutex mutex_;
  std::set<std::shared_ptr<Connection>> connections_;
  std::size_t from_network_ = 0;             // of these
  std::map<std::string, std::size_t> from_;  // and by address of the network
  asio::thread_pool pool_;  // last, so that it is joined while everything it calls is alive
};

Result<void> Service::bind() {
  if (auto first = listen_on({asio::ip::address_v4::loopback(), options_.port}, false); !first)
    return first;
  port_ = listening_.front().acceptor.local_endpoint().port();
  // Not every machine has IPv6, and there 127.0.0.1 is enough.
  (void)listen_on({asio::ip::address_v6::loopback(), port_}, false);
  if (options_.listener) return listen_for_the_class(*options_.listener);
  return {};
}

Result<void> Service::listen_for_the_class(const ClassListener& listener) {
  expects(options_.door != nullptr);
  error_code trouble;
  const auto address = asio::ip::make_address_v4(listener.address, trouble);
  expects(!trouble && address != asio::ip::address_v4::loopback() && !address.is_unspecified());
  if (listener.tls) tls_.emplace(context_with(*listener.tls));
  COPUNCTAL_TRY_VOID(listen_on({address, port_}, true));
  options_.door->open({.address = listener.address,
                       .port = port_,
                       .is_tls = listener.tls.has_value(),
                       .fingerprint = listener.tls ? listener.tls->fingerprint : ""},
                      listener.open_for);
  return {};
}

Result<void> Service::listen_on(const tcp::endpoint& endpoint, bool is_for_the_class) {
  error_code trouble;
  tcp::acceptor acceptor(control_);
  acceptor.open(endpoint.protocol(), trouble);
  if (!trouble && endpoint.address().is_v6()) acceptor.set_option(asio::ip::v6_only(true), trouble);
  if (!trouble) acceptor.set_option(asio::socket_base::reuse_address(true), trouble);
  if (!trouble) acceptor.bind(endpoint, trouble);
  if (!trouble) acceptor.listen(asio::socket_base::max_listen_connections, trouble);
  if (!trouble) {
    listening_.push_back({std::move(acceptor), is_for_the_class});
    return {};
  }
  if (trouble == boost::system::errc::address_not_available)
    return fail(Error::Kind::io,
                endpoint.address().to_string() + " is no address of this computer (any more)",
                "interface", endpoint.address().to_string(), "name another one with --interface");
  const std::string number = std::to_string(endpoint.port());
  if (trouble == asio::error::address_in_use)
    return fail(Error::Kind::io, "port " + number + " is in use by another program", "port", number,
                "choose another one with --port, or stop the other program");
  return fail(Error::Kind::io, "cannot listen on port " + number + " (" + trouble.message() + ")",
              "port", number, "choose another one with --port, at least 1024");
}

void Service::run() {
  signals_.async_wait([this](error_code trouble, int) {
    if (!trouble) stop();
  });
  for (Listening& listening : listening_)
    asio::co_spawn(control_, accept(listening), asio::detached);
  if (options_.listener) {
    closing_timer_.expires_after(options_.listener->open_for);
    closing_timer_.async_wait([this](error_code trouble) {
      if (!trouble) close_the_class();
    });
  }
  const std::stop_callback on_stop(options_.stop,
                                   [this] { asio::post(control_, [this] { stop(); }); });
  std::thread second([this] { io_.run(); });
  io_.run();
  second.join();
}

void Service::stop() {
  if (is_stopping_.exchange(true)) return;
  error_code ignored;
  for (Listening& listening : listening_) listening.acceptor.close(ignored);
  signals_.cancel(ignored);
  closing_timer_.cancel(ignored);

  const std::lock_guard lock(mutex_);
  for (const auto& connection : connections_)
    asio::post(connection->stream.get_executor(), [connection] {
      if (connection->is_idle) connection->stream.plain().cancel();
    });
  if (connections_.empty()) return;
  drain_timer_.expires_after(options_.drain);
  drain_timer_.async_wait([this](error_code trouble) {
    if (!trouble) io_.stop();
  });
}

/// Nobody comes by the network any more, and who did is gone.
void Service::close_the_class() {
  options_.door->close();
  error_code ignored;
  for (Listening& listening : listening_)
    if (listening.is_for_the_class) listening.acceptor.close(ignored);
  const std::lock_guard lock(mutex_);
  for (const auto& connection : connections_)
    if (!connection->arrival.is_local)
      asio::post(connection->stream.get_executor(),
                 [connection] { connection->stream.plain().close(); });
  if (options_.report) options_.report("the network side is closed; this computer goes on");
}

bool Service::has_room(const Arrival& arrival) {
  const std::lock_guard lock(mutex_);
  if (connections_.size() >= options_.most_connections) return false;
  if (arrival.is_local) return true;
  if (from_network_ >= options_.most_from_network) return false;
  const auto from = from_.find(arrival.peer);
  return from == from_.end() || from->second < options_.most_from_address;
}

void Service::join(const std::shared_ptr<Connection>& connection) {
  const std::lock_guard lock(mutex_);
  connections_.insert(connection);
  if (connection->arrival.is_local) return;
  ++from_network_;
  ++from_[connection->arrival.peer];
}

void Service::leave(const std::shared_ptr<Connection>& connection) {
  const std::lock_guard lock(mutex_);
  connections_.erase(connection);
  if (!connection->arrival.is_local) {
    --from_network_;
    const auto from = from_.find(connection->arrival.peer);
    if (--from->second == 0) from_.erase(from);
  }
  if (is_stopping_ && connections_.empty())
    asio::post(control_, [this] {
      error_code ignored;
      drain_timer_.cancel(ignored);
    });
}

asio::awaitable<void> Service::accept(Listening& listening) {
  while (!is_stopping_) {
    auto [trouble, socket] =
        co_await listening.acceptor.async_accept(asio::make_strand(io_), with_code);
    if (is_stopping_ || trouble == asio::error::operation_aborted) co_return;
    if (!listening.acceptor.is_open()) co_return;
    if (trouble) {  // out of file handles, say: others will be given back
      asio::steady_timer pause(control_, std::chrono::milliseconds(50));
      co_await pause.async_wait(with_code);
      continue;
    }
    error_code ignored;
    socket.set_option(tcp::no_delay(true), ignored);
    const tcp::endpoint peer = socket.remote_endpoint(ignored);
    if (ignored) continue;  // gone already
    Arrival arrival{.is_local = !listening.is_for_the_class && peer.address().is_loopback(),
                    .is_tls = listening.is_for_the_class && tls_.has_value(),
                    .peer = peer.address().to_string(),
                    .address = listening.is_for_the_class ? options_.listener->address : "",
                    .port = port_};
    if (!has_room(arrival)) continue;
    auto connection = std::make_shared<Connection>(
        std::move(socket), arrival.is_tls ? &*tls_ : nullptr, std::move(arrival));
    join(connection);
    asio::co_spawn(connection->stream.get_executor(), converse(connection), asio::detached);
  }
}

asio::awaitable<void> Service::converse(std::shared_ptr<Connection> connection) {
  try {
    co_await answer_all(*connection);
  } catch (const std::exception& trouble) {
    if (options_.report) options_.report(trouble.what());
  }
  error_code ignored;
  connection->stream.plain().socket().shutdown(tcp::socket::shutdown_both, ignored);
  connection->stream.plain().socket().close(ignored);
  leave(connection);
}

asio::awaitable<void> Service::answer_all(Connection& connection) {
  auto* const tls = connection.stream.tls();
  if (tls != nullptr) {
    connection.stream.plain().expires_after(options_.header);
    auto [trouble] = co_await tls->async_handshake(asio::ssl::stream_base::server, with_code);
    if (trouble) co_return;
  }
  for (bool go_on = true; go_on;) go_on = co_await serve_one(connection);
  if (tls == nullptr || !connection.stream.plain().socket().is_open()) co_return;
  // Says that this was all, so that nobody takes a connection cut short for a whole one.
  connection.stream.plain().expires_after(farewell);
  auto [ignored] = co_await tls->async_shutdown(with_code);
  (void)ignored;
}

/// Answers one request; whether the connection may bring another.
asio::awaitable<bool> Service::serve_one(Connection& connection) {
  if (!co_await await_request(connection)) co_return false;

  RequestParser parser;
  parser.header_limit(largest_header);
  parser.body_limit(largest_picture);
  connection.stream.plain().expires_after(options_.header);
  auto [bad_header, header_size] =
      co_await http::async_read_header(connection.stream, connection.buffer, parser, with_code);
  if (bad_header) {
    co_await refuse_bytes(connection, bad_header);
    co_return false;
  }
  // One route takes more than the others, and only from this computer.
  if (!connection.arrival.is_local || parser.get().method() != http::verb::post ||
      !is_picture_target(parser.get().target())) {
    parser.body_limit(largest_body);
    if (parser.content_length().value_or(0) > largest_body) {
      co_await refuse_bytes(connection, http::make_error_code(http::error::body_limit));
      co_return false;
    }
  }
  connection.stream.plain().expires_after(options_.body);
  if (!co_await invite_body(connection, parser)) co_return false;
  auto [bad_body, body_size] =
      co_await http::async_read(connection.stream, connection.buffer, parser, with_code);
  if (bad_body) {
    co_await refuse_bytes(connection, bad_body);
    co_return false;
  }

  const unsigned version = parser.get().version();
  const bool keep_alive = parser.get().keep_alive();
  const bool with_body = parser.get().method() != http::verb::head;
  connection.stream.plain().expires_never();
  const Response response = co_await asio::co_spawn(
      pool_.get_executor(), compute(site_, request_in(parser, connection.arrival)),
      asio::use_awaitable);
  co_return co_await write(connection, response, version, keep_alive && !is_stopping_, with_body);
}

/// Waits until at least a byte of the next request is there.
asio::awaitable<bool> Service::await_request(Connection& connection) {
  if (is_stopping_) co_return false;
  if (connection.buffer.size() > 0) co_return true;
  connection.stream.plain().expires_after(options_.idle);
  connection.is_idle = true;
  auto [trouble, size] =
      co_await connection.stream.async_read_some(connection.buffer.prepare(read_size), with_code);
  connection.is_idle = false;
  connection.buffer.commit(size);
  co_return !trouble;
}

/// Answers `Expect: 100-continue`, so that a body held back by it is sent.
asio::awaitable<bool> Service::invite_body(Connection& connection, const RequestParser& parser) {
  if (!beast::iequals(parser.get()[http::field::expect], "100-continue")) co_return true;
  http::response<http::empty_body> go_ahead(http::status::continue_, parser.get().version());
  auto [trouble, size] = co_await http::async_write(connection.stream, go_ahead, with_code);
  co_return !trouble;
}

asio::awaitable<void> Service::refuse_bytes(Connection& connection, error_code trouble) {
  constexpr unsigned http_1_1 = 11;
  const Refusal refusal = refusal_of_bytes(trouble);
  if (refusal.status == 0) co_return;
  Response response = response_for(refusal, "");
  protect(response);
  (void)co_await write(connection, response, http_1_1, false, true);
  co_await hang_up(connection);
}

/// Writes the response; whether it was written and the connection stays open.
asio::awaitable<bool> Service::write(Connection& connection, const Response& response,
                                     unsigned version, bool keep_alive, bool with_body) {
  http::response<http::span_body<const char>> message;
  message.version(version);
  message.result(static_cast<unsigned>(response.status));
  message.keep_alive(keep_alive);
  for (const auto& [name, value] : response.headers) message.insert(name, value);
  if (!response.content_type.empty()) message.set(http::field::content_type, response.content_type);
  const std::string_view body = response.body();
  if (response.status != 204) message.content_length(body.size());
  if (with_body) message.body() = {body.data(), body.size()};

  connection.stream.plain().expires_after(options_.write);
  auto [trouble, size] = co_await http::async_write(connection.stream, message, with_code);
  co_return !trouble && keep_alive;
}

/// Lets the client read our refusal: closing with bytes of its request unread would reset the
/// connection and take the refusal with it.
asio::awaitable<void> Service::hang_up(Connection& connection) {
  error_code ignored;
  connection.stream.plain().socket().shutdown(tcp::socket::shutdown_send, ignored);
  connection.stream.plain().expires_after(refused_body_drain);
  std::vector<char> thrown_away(std::size_t{64} * 1024);
  for (error_code trouble; !trouble;) {
    auto [failed, size] =
        co_await connection.stream.plain().async_read_some(asio::buffer(thrown_away), with_code);
    trouble = failed;
  }
}

}  // namespace

Result<void> serve(const Site& site, const ServerOptions& options,
                   const std::function<void(std::uint16_t port)>& on_ready) {
  Service service(site, options);
  if (auto bound = service.bind(); !bound) return bound;
  if (on_ready) on_ready(service.port());
  service.run();
  return {};
}

Result<void> serve(SittingDesk& desk, std::span<const EmbeddedFile> files,
                   const ServerOptions& options,
                   const std::function<void(std::uint16_t port)>& on_ready) {
  Site site(desk, files, options.report, options.workshop, options.door);
  if (options.rehearsals != nullptr) site.let_rehearse(*options.rehearsals);
  return serve(site, options, on_ready);
}

}  // namespace copunctal
