//! A real broker, where one is installed: mosquitto, a general-purpose MQTT broker.

use super::{called, still};
use crate::api::tests::desk::TestDesk;
use crate::notices::{BrokerKeys, publish_to_broker};
use crate::shop::config::Broker;
use rumqttc::{AsyncClient, Event, MqttOptions, Packet, QoS};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{mpsc, watch};
use tokio::time::{sleep, timeout};

struct Mosquitto(Child, u16);

impl Drop for Mosquitto {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

fn mosquitto() -> Option<Mosquitto> {
    let program = ["/usr/sbin/mosquitto", "/usr/bin/mosquitto"].into_iter().find(|p| Path::new(p).exists())?;
    let port = std::net::TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let child = Command::new(program)
        .args(["-p", &port.to_string()])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    Some(Mosquitto(child, port))
}

/// Everything told under `shop/#`, as topic, text, retained.
fn listen(port: u16, id: &str) -> mpsc::UnboundedReceiver<(String, String, bool)> {
    let (told, got) = mpsc::unbounded_channel();
    let options = MqttOptions::new(id, ("127.0.0.1", port));
    let (client, mut events) = AsyncClient::builder(options).capacity(16).build();
    tokio::spawn(async move {
        loop {
            match events.poll().await {
                Ok(Event::Incoming(Packet::ConnAck(_))) => client.subscribe("shop/#", QoS::AtLeastOnce).await.unwrap(),
                Ok(Event::Incoming(Packet::Publish(p))) => {
                    let topic = String::from_utf8_lossy(&p.topic).into_owned();
                    let text = String::from_utf8_lossy(&p.payload).into_owned();
                    if told.send((topic, text, p.retain)).is_err() {
                        return;
                    }
                }
                Ok(_) => {}
                Err(_) => sleep(Duration::from_millis(50)).await,
            }
        }
    });
    got
}

async fn until(
    got: &mut mpsc::UnboundedReceiver<(String, String, bool)>,
    so: impl Fn(&str, &str) -> bool,
) -> (String, String, bool) {
    timeout(Duration::from_secs(20), async {
        loop {
            let one = got.recv().await.unwrap();
            if so(&one.0, &one.1) {
                return one;
            }
        }
    })
    .await
    .expect("the broker tells it")
}

#[tokio::test]
async fn states_are_retained_events_are_not_and_a_killed_daemon_is_said_to_be_gone() {
    let Some(broker) = mosquitto() else {
        eprintln!("skipped: mosquitto is not installed");
        return;
    };
    let port = broker.1;
    let desk = Arc::new(TestDesk::new(64));
    let (told, standing) = watch::channel(Some(Arc::new(still())));
    let config = Broker {
        host: "127.0.0.1".to_owned(),
        port,
        topic: "shop/router-1".to_owned(),
        user: None,
        tls: false,
        ca_file: None,
    };
    let mut live = listen(port, "first");
    // a task of its own, so that it can be cut off as a killed daemon is
    let runtime = std::thread::spawn({
        let desk = Arc::clone(&desk);
        move || {
            let rt = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
            rt.block_on(async {
                // cut off without a word when the desk says so
                tokio::select! {
                    () = publish_to_broker(Arc::clone(&desk), standing, config, BrokerKeys::default()) => {}
                    () = desk.go_on.notified() => {}
                }
            });
        }
    });
    until(&mut live, |t, x| t == "shop/router-1/online" && x == "1").await;
    until(&mut live, |t, _| t == "shop/router-1/state").await;
    desk.happen("first words");
    let event = until(&mut live, |t, _| t == "shop/router-1/event/link.up").await;
    assert!(event.1.contains("beef-1") && !event.2, "{event:?}");
    told.send(Some(Arc::new(called(4)))).unwrap();
    until(&mut live, |t, x| t == "shop/router-1/attention" && x.contains("\"number\":4")).await;
    // whoever comes later gets what is true, and nothing that is over
    let mut later = listen(port, "second");
    let mut retained = Vec::new();
    while let Ok(Some(one)) = timeout(Duration::from_millis(700), later.recv()).await {
        retained.push(one);
    }
    let mut topics: Vec<&str> = retained.iter().map(|r| r.0.trim_start_matches("shop/router-1/")).collect();
    topics.sort_unstable();
    assert_eq!(topics, ["attention", "online", "state"], "{retained:?}");
    assert!(retained.iter().all(|r| r.2));
    // cut off: nobody said goodbye, so the broker tells the last will
    desk.go_on.notify_one();
    runtime.join().unwrap();
    until(&mut live, |t, x| t == "shop/router-1/online" && x == "0").await;
}
