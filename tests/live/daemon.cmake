# The whole daemon from outside: files, processes, signals, a network on loopback.
function(daemon_test name limit)
  add_test(NAME "live: ${name}" COMMAND ${ARGN})
  set_tests_properties("live: ${name}" PROPERTIES LABELS live TIMEOUT ${limit} SKIP_RETURN_CODE 77)
endfunction()

set(python /usr/bin/python3)
set(live ${CMAKE_CURRENT_SOURCE_DIR})
daemon_test("bad input" 300 ${python} ${live}/bad_input_test.py $<TARGET_FILE:riserkeep>)

find_program(SYSTEMD_ANALYZE systemd-analyze)
if(SYSTEMD_ANALYZE)
  daemon_test("installation" 120 bash ${live}/install.sh ${PROJECT_BINARY_DIR})
else()
  message(STATUS "systemd-analyze is missing, the installation is not tested. Install it: apt-get install systemd")
endif()

daemon_test("reload" 400 ${python} ${live}/reload_test.py $<TARGET_FILE:riserkeep>)
daemon_test("broker" 240 ${python} ${live}/broker_test.py $<TARGET_FILE:riserkeep>)
daemon_test("a foreign Modbus server" 120 ${python} ${live}/foreign_server_test.py $<TARGET_FILE:riserkeep>)
daemon_test("exact replay" 200 ${python} ${live}/exact_replay_test.py $<TARGET_FILE:riserkeep>)
daemon_test("killed 20 times" 900 ${python} ${live}/kill_test.py $<TARGET_FILE:riserkeep> 20 7)
