# The simulated room, read by a client that is not ours.
find_program(MBPOLL mbpoll)
if(MBPOLL)
  add_test(NAME "live: plant and mbpoll"
           COMMAND /usr/bin/python3 ${CMAKE_CURRENT_SOURCE_DIR}/plant_mbpoll.py $<TARGET_FILE:riserkeep>
                   ${PROJECT_SOURCE_DIR}/config/examples/demo.yaml)
  set_tests_properties("live: plant and mbpoll" PROPERTIES LABELS live TIMEOUT 120)
else()
  message(STATUS "mbpoll is missing, its live test is left out. Install it: apt-get install mbpoll")
endif()
