# For measuring, made when tools/bench asks for it: a store of years, the least programs that
# read one, keep readings or count messages, and the daemon's pieces under Google Benchmark.

add_executable(rimeward-years EXCLUDE_FROM_ALL tools/years/main.cc)
target_link_libraries(rimeward-years PRIVATE rimeward_daemon CLI11::CLI11)
add_executable(one-row EXCLUDE_FROM_ALL tools/bench/one_row.cc)
target_link_libraries(one-row PRIVATE flags SQLite::SQLite3)
add_executable(counting-client EXCLUDE_FROM_ALL tools/bench/counting_client.cc)
target_link_libraries(counting-client PRIVATE flags PahoMqttCpp::paho-mqttpp3)

find_package(benchmark QUIET)  # package libbenchmark-dev
if(benchmark_FOUND)
  add_executable(bench-pieces EXCLUDE_FROM_ALL tools/bench/pieces.cc)
  target_link_libraries(bench-pieces PRIVATE rimeward_daemon benchmark::benchmark
    nlohmann_json::nlohmann_json SQLite::SQLite3 ZLIB::ZLIB)
endif()
