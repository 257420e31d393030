//! The pocket page in a real browser, and its purchase file.

use std::collections::VecDeque;
use std::fs::{self, File};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::thread;
use std::time::{Duration, Instant};

use serde_json::{Value, json};

use crate::common::{Stash, is_asked_for, run_in};

/// Cards with hostile names, and a project that is short of one of them and of an unowned colour.
fn stash() -> Stash {
    let stash = Stash::new();
    let cards = "range,number,name,hex,lengths\nHeath,7,slate,#5E7480,1\nHeath,8,moss,#6B7F4A,9\n\
                 Heath,9,\"</script><b>rush</b>, it's \"\"dear\"\"\",#8A7B3C,8\nHeath,12,=1+2,,8\n";
    let cards = stash.file("cards.csv", cards);
    stash.ok(&["import", "cards", &cards]);
    let key = "range,number,name,strands,stitches\nHeath,7,,2,20000\nHeath,40,fern,2,300\n";
    let key = stash.file("key.csv", key);
    stash.ok(&["import", "key", &key, "--project", "Winter Fox"]);
    stash
}

/// Two skeins of an existing card, and two of a new colour.
const PURCHASE: &str = "range,number,name,hex,dye lot,skeins,uncut,purchase id\r\n\
         Heath,7,slate,#5E7480,K7,0,2,p00000001a1b2c3d4\r\nHeath,40,fern,,,1,1,p00000001a1b2c3d4\r\n";

#[test]
fn a_purchase_that_is_imported_twice_adds_once() {
    let stash = stash();
    let purchase = stash.file("purchase.csv", PURCHASE);
    let import = ["import", "cards", &purchase, "--purchase"];
    let taken = stash.json(&import);
    assert_eq!((&taken["added"], &taken["changed"]), (&json!(1), &json!(1)));
    let once = stash.ok(&["export", "csv", "-"]);

    let mut again = import.to_vec();
    again.push("--json");
    let refused = stash.run(&again).error();
    assert_eq!(refused["code"], "purchase_taken");
    let words = refused["message"].as_str().unwrap();
    assert!(
        words.contains("imported already, on") && words.contains("--again"),
        "{words}"
    );
    assert_eq!(stash.ok(&["export", "csv", "-"]), once);

    stash.ok(&["undo"]);
    stash.ok(&import);
    assert_eq!(stash.ok(&["export", "csv", "-"]), once);
    stash.ok(&["import", "cards", &purchase, "--purchase", "--again"]);
    let twice = stash.ok(&["export", "csv", "-"]);
    assert!(
        twice.contains("Heath,7,slate,#5E7480,") && twice != once,
        "{twice}"
    );
}

#[test]
fn a_purchase_imported_into_two_copies_counts_once_after_a_merge() {
    let stash = stash();
    let purchase = stash.file("purchase.csv", PURCHASE);
    let other = stash.folder.path().join("other");
    fs::create_dir(&other).unwrap();
    for file in ["record.jsonl", "record.end"] {
        fs::copy(stash.dir().join(file), other.join(file)).unwrap();
    }
    let other = other.to_str().unwrap();
    let import = ["import", "cards", &purchase, "--purchase"];
    stash.ok(&import);
    let once = stash.ok(&["export", "csv", "-"]);
    assert_eq!(run_in(Path::new(other), &import).code, 0);
    for side in ["--mine", "--theirs"] {
        stash.ok(&["merge", other, side]);
        assert_eq!(stash.ok(&["export", "csv", "-"]), once, "{side}");
        stash.ok(&["undo"]);
    }
}

/// A browser controlled through pipes, and its reports about a page (Chrome DevTools Protocol,
/// stable 1.3).
struct Browser {
    child: Child,
    to: File,
    from: Receiver<Value>,
    events: VecDeque<Value>,
    session: Option<String>,
    asked: u64,
}

impl Drop for Browser {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

const PATIENCE: Duration = Duration::from_secs(60);

fn browser() -> Option<String> {
    let names = [
        "chromium-headless-shell",
        "chromium",
        "chromium-browser",
        "google-chrome",
    ];
    let given = std::env::var("HOMEHOOK_BROWSER").ok();
    let mut names = given.into_iter().chain(names.map(str::to_owned));
    names.find(|name| {
        let version = Command::new(name)
            .arg("--version")
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status();
        version.is_ok_and(|status| status.success())
    })
}

impl Browser {
    /// Opens an empty page of a phone's size.
    fn open(folder: &Path) -> Self {
        let [to, from] = ["to", "from"].map(|name| folder.join(name));
        assert!(
            Command::new("mkfifo")
                .args([&to, &from])
                .status()
                .unwrap()
                .success()
        );
        let mut command = Command::new("sh");
        command.args([
            "-c",
            "exec \"$0\" --headless --no-sandbox --disable-gpu --disable-dev-shm-usage \
                             --remote-debugging-pipe --user-data-dir=\"$1\" 3<\"$2\" 4>\"$3\"",
        ]);
        command
            .arg(browser().unwrap())
            .arg(folder.join("profile"))
            .args([&to, &from]);
        let child = command
            .stdin(Stdio::null())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let to = File::options().write(true).open(to).unwrap();
        let mut lines = BufReader::new(File::open(from).unwrap());
        let (send, receive) = channel();
        thread::spawn(move || {
            let mut line = Vec::new();
            while lines.read_until(0, &mut line).is_ok_and(|bytes| bytes > 0) {
                line.pop();
                let Ok(said) = serde_json::from_slice(&line) else {
                    return;
                };
                if send.send(said).is_err() {
                    return;
                }
                line.clear();
            }
        });
        let mut browser = Self {
            child,
            to,
            from: receive,
            events: VecDeque::new(),
            session: None,
            asked: 0,
        };
        let page = browser.ask("Target.createTarget", json!({"url": "about:blank"}));
        let target = json!({"targetId": page["targetId"], "flatten": true});
        let session = browser.ask("Target.attachToTarget", target);
        browser.session = session["sessionId"].as_str().map(str::to_owned);
        for domain in ["Page", "Runtime", "Log", "Network"] {
            browser.ask(&format!("{domain}.enable"), json!({}));
        }
        let phone = json!({"width": 360, "height": 740, "deviceScaleFactor": 2, "mobile": true});
        browser.ask("Emulation.setDeviceMetricsOverride", phone);
        let downloads = json!({"behavior": "allow", "downloadPath": folder});
        browser.ask("Browser.setDownloadBehavior", downloads);
        browser
    }

    fn ask(&mut self, method: &str, params: Value) -> Value {
        self.asked += 1;
        let mut asked = json!({"id": self.asked, "method": method, "params": params});
        if let Some(session) = &self.session {
            asked["sessionId"] = json!(session);
        }
        self.to.write_all(format!("{asked}\0").as_bytes()).unwrap();
        loop {
            let said = self.from.recv_timeout(PATIENCE).unwrap();
            if said["id"] == self.asked {
                assert!(said["error"].is_null(), "{method}: {said}");
                return said["result"].clone();
            }
            self.events.push_back(said);
        }
    }

    /// Opens or reloads a page, and waits until it has loaded.
    fn load(&mut self, method: &str, params: Value) {
        self.events
            .retain(|event| event["method"] != "Page.loadEventFired");
        self.ask(method, params);
        let end = Instant::now() + PATIENCE;
        while !self
            .events
            .iter()
            .any(|event| event["method"] == "Page.loadEventFired")
        {
            let said = self
                .from
                .recv_timeout(end.saturating_duration_since(Instant::now()));
            self.events.push_back(said.unwrap());
        }
    }

    fn evaluate(&mut self, expression: &str) -> Value {
        let asked = json!({"expression": expression, "returnByValue": true, "userGesture": true});
        let said = self.ask("Runtime.evaluate", asked);
        assert!(said["exceptionDetails"].is_null(), "{expression}: {said}");
        said["result"]["value"].clone()
    }

    /// Types into the search, replacing its contents.
    fn search(&mut self, text: &str) {
        self.evaluate("document.getElementById('search').select()");
        self.ask("Input.insertText", json!({"text": text}));
        if text.is_empty() {
            self.evaluate("document.getElementById('search').value = ''");
            self.evaluate("document.getElementById('search').dispatchEvent(new Event('input'))");
        }
    }

    fn write_lot(&mut self, selector: &str, lot: &str) {
        self.evaluate(&format!("document.querySelector({selector:?}).focus()"));
        self.ask("Input.insertText", json!({"text": lot}));
    }

    /// The numbers of the visible rows.
    fn seen(&mut self) -> Value {
        self.evaluate(
            "Array.from(document.querySelectorAll('li')).filter(li => li.getClientRects().length)\
             .map(li => li.querySelector('b').textContent)",
        )
    }

    fn click(&mut self, selector: &str) {
        self.evaluate(&format!(
            "Array.from(document.querySelectorAll({selector:?})).find(of => of.getClientRects().length).click()"
        ));
    }

    fn text(&mut self, id: &str) -> String {
        let text = self.evaluate(&format!(
            "(of => of.value || of.textContent)(document.getElementById({id:?}))"
        ));
        text.as_str().unwrap().to_owned()
    }

    /// Checks that nothing was thrown, refused by the policy or requested from a network.
    fn assert_quiet(&self) {
        for event in &self.events {
            let params = &event["params"];
            match event["method"].as_str().unwrap_or_default() {
                "Runtime.exceptionThrown" | "Log.entryAdded" => panic!("{event}"),
                "Network.requestWillBeSent" => {
                    let url = params["request"]["url"].as_str().unwrap();
                    assert!(
                        ["file:", "blob:", "data:", "about:"]
                            .iter()
                            .any(|of| url.starts_with(of)),
                        "{url}"
                    );
                }
                _ => {}
            }
        }
    }
}

/// The only downloaded file in a folder, once it is complete.
fn downloaded(folder: &Path) -> PathBuf {
    let end = Instant::now() + PATIENCE;
    loop {
        let files = fs::read_dir(folder)
            .unwrap()
            .map(|file| file.unwrap().path());
        let mut whole = files.filter(|file| file.extension().is_some_and(|end| end == "csv"));
        if let Some(file) = whole.find(|file| {
            let name = file.file_name().unwrap_or_default().to_string_lossy();
            // The browser keeps the name with an empty file until all is there.
            name.starts_with("purchase-") && fs::metadata(file).is_ok_and(|of| of.len() > 0)
        }) {
            return file;
        }
        assert!(Instant::now() < end, "nothing was saved");
        thread::sleep(Duration::from_millis(50));
    }
}

#[test]
fn the_pocket_page_searches_ticks_and_saves_in_a_browser() {
    if !is_asked_for("the pocket page in a browser", "Chromium", || {
        browser().is_some()
    }) {
        return;
    }
    let stash = stash();
    let page = stash.file("page.html", "");
    stash.ok(&["print", "pocket", "--to", &page, "--force"]);
    let folder = tempfile::tempdir().unwrap();
    let mut browser = Browser::open(folder.path());
    browser.load("Page.navigate", json!({"url": format!("file://{page}")}));
    assert_eq!(browser.seen(), json!(["7", "40"]));
    assert_eq!(browser.evaluate("document.querySelectorAll('b').length"), 5);
    let wide = "document.documentElement.scrollWidth <= 360";
    assert_eq!(browser.evaluate(wide), true);

    browser.search("RÚSH");
    assert_eq!(browser.seen(), json!(["9"]));
    browser.click("li input");
    browser.search("40");
    browser.click("li input");
    browser.search("");
    browser.click("input[value=bought]");
    assert_eq!(browser.seen(), json!(["40", "9"]));
    browser.click("li:last-child .count button:last-child");
    browser.write_lot("li:last-child .lot", "=K7, \"dark\"");
    let sum = browser.text("sum");
    let small = "Array.from(document.querySelectorAll('button, li > label, .views label'))\
                 .filter(of => of.getClientRects().length)\
                 .filter(of => Math.min(of.getBoundingClientRect().height, of.getBoundingClientRect().width) < 48).length";
    assert_eq!(browser.evaluate(small), 0);

    browser.load("Page.reload", json!({}));
    assert_eq!(browser.text("sum"), sum);
    assert!(sum.starts_with("2 colours, "), "{sum}");
    browser.click("#save");
    let file = downloaded(folder.path());
    let text = fs::read_to_string(&file).unwrap();
    assert_eq!(
        text.replace("\r\n", "\n"),
        browser.text("csv").replace("\r\n", "\n")
    );
    assert!(text.contains(",\"'=K7, \"\"dark\"\"\",1,1,"), "{text}");
    let typed = browser.text("typed");
    let begins = "homehook bought 'Heath:40=2:=K7, \"dark\"' ";
    assert!(typed.starts_with(begins), "{typed}");
    let import = ["import", "cards", file.to_str().unwrap(), "--purchase"];
    let taken = stash.json(&import);
    assert_eq!(
        (&taken["added"], &taken["changed"], &taken["rejected"]),
        (&json!(1), &json!(1), &json!([]))
    );
    assert_ne!(stash.run(&import).code, 0);
    let found = stash.json(&["find", "40"]);
    assert_eq!(found["matches"][0]["thread"][0]["lot"], "=K7, \"dark\"");

    // The next purchase has an id of its own.
    browser.evaluate("window.confirm = () => true");
    browser.click("#next");
    browser.search("moss");
    browser.click("li input");
    let next = browser.text("csv");
    assert!(
        next.contains(",p00000002") && text.contains(",p00000001"),
        "{next}"
    );

    for (scheme, ink) in [("dark", "rgb(255, 255, 255)"), ("light", "rgb(0, 0, 0)")] {
        let features = json!({"features": [{"name": "prefers-color-scheme", "value": scheme}]});
        browser.ask("Emulation.setEmulatedMedia", features);
        assert_eq!(
            browser.evaluate("getComputedStyle(document.body).color"),
            ink
        );
    }

    // Where storage is unavailable, it works as long as the page is open.
    let no_memory =
        "Object.defineProperty(window, 'localStorage', {get() { throw new Error('not here'); }})";
    browser.ask(
        "Page.addScriptToEvaluateOnNewDocument",
        json!({"source": no_memory}),
    );
    browser.load("Page.reload", json!({}));
    browser.search("moss");
    browser.click("li input");
    assert_eq!(browser.text("sum"), "1 colour, 1 skein");
    browser.assert_quiet();
}
