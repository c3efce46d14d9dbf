# Warnings are errors. Imported targets count as system headers and stay silent.
add_library(riserkeep_compiler INTERFACE)
target_compile_options(riserkeep_compiler INTERFACE
  -Wall -Wextra -Wpedantic -Werror -Wshadow -Wconversion -Wsign-conversion -Wold-style-cast -Wnon-virtual-dtor
  -Woverloaded-virtual -Wcast-align -Wformat=2 -Wdouble-promotion -Wundef
  $<$<CXX_COMPILER_ID:GNU>:-Wduplicated-cond -Wlogical-op -Wsuggest-override>
  -ffp-contract=off)   # the engine promises equal bytes: no fused multiply-add
target_include_directories(riserkeep_compiler INTERFACE ${PROJECT_SOURCE_DIR})
target_compile_definitions(riserkeep_compiler INTERFACE
  EIGEN_DONT_VECTORIZE BOOST_ASIO_NO_DEPRECATED SPDLOG_FMT_EXTERNAL
  RISERKEEP_VERSION="${PROJECT_VERSION}")

# One library per folder: all its sources below, new files picked up at the next build.
function(riserkeep_library name)
  file(GLOB_RECURSE sources CONFIGURE_DEPENDS ${CMAKE_CURRENT_SOURCE_DIR}/*.cpp)
  list(FILTER sources EXCLUDE REGEX "/main\\.cpp$")
  add_library(${name} STATIC ${sources})
  target_link_libraries(${name} PUBLIC riserkeep_compiler ${ARGN})
endfunction()
