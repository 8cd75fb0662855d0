// A small job, worked: what examples in the documentation of the modules start from.
{
    use ovolo::session::{Ask, Session, Texts};
    let job = r#"
sheet "Two sashes" layer job
counted sash (sashes)
phases "Making"

survey opening {
  mark  text    key
  wide  length  in in
  high  length  in in
}
resource joiner  labor  h
resource pine    stock  bf

given pace  2 h  from 1 h to 4 h

for each opening {
  area = wide * high
  take joiner  pace  for "Making"
  part stile  2 of pine for "Making" {
    length     high      rough high + 1 in
    width      2 in      rough 2 1/4 in
    thickness  1 3/8 in  rough 1 5/8 in
  }
}
list windows for each opening {
  column mark
  column area
}
paper windows for shop {
  list windows
}
trial "a small window" {
  with mark = "A9", wide = 20 in, high = 30 in
  expect area = 600 sq in
}
job {
  survey opening from "survey.csv"
  prices from "prices.csv"
  money USD
}
calendar {
  starts  2026-03-02
}
"#;
    let files = [
        ("job.ovo", job),
        ("survey.csv", "mark,wide,high\nA1,30,60\nA2,34,66\n"),
        ("prices.csv", "resource,unit,price\njoiner,h,40.00\npine,bf,9.00\n"),
    ];
    let ask = Ask {
        job: "job.ovo".into(),
        ..Ask::default()
    };
    let mut session = Session::new(ask, std::sync::Arc::new(Texts::from(files)));
    let moved = session.apply(&[], &Default::default());
    moved.unwrap_or_else(|no| panic!("{:?}", no.problems));
    session
}
