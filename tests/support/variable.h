// A variable of the environment for as long as this lives. Before any other thread
// starts.

#pragma once

#include <string>

#include <stdlib.h>

namespace rimeward {

class Variable {
 public:
  Variable(const char* name, const std::string& value) : name_(name) {
    ::setenv(name, value.c_str(), 1);
  }
  ~Variable() { ::unsetenv(name_); }
  Variable(const Variable&) = delete;
  Variable& operator=(const Variable&) = delete;

 private:
  const char* name_;
};

}  // namespace rimeward
