# Mail: our courier against a library server, a real one, and servers that behave badly.
add_executable(mail_sender mail_sender.cpp)
target_link_libraries(mail_sender PRIVATE daemon)
set(mail_test ${CMAKE_CURRENT_SOURCE_DIR}/mail)
daemon_test("mail faults" 60 ${python} ${mail_test}/faults_test.py $<TARGET_FILE:mail_sender>)
daemon_test("mail to aiosmtpd" 60 ${python} ${mail_test}/aiosmtpd_test.py $<TARGET_FILE:mail_sender>)
daemon_test("mail to postfix" 60 ${python} ${mail_test}/postfix_test.py $<TARGET_FILE:mail_sender>)
daemon_test("messages and kill -9" 150 ${python} ${mail_test}/outbox_kill_test.py $<TARGET_FILE:riserkeep>)
daemon_test("posts and heartbeat" 120 ${python} ${mail_test}/hook_test.py $<TARGET_FILE:riserkeep>)
